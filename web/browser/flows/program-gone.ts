/** @file The program killed while somebody types: said so, kept, and saved once it is back. */
import assert from "node:assert/strict";
import { spawn, type ChildProcess } from "node:child_process";
import { createInterface } from "node:readline";

import { clickPlate, needed, plateShown, type Flow } from "../way.ts";

const GONE = "The program does not answer.";

export const programGone: Flow = async (way) => {
  const { page } = way;
  const command = JSON.parse(needed(way, "program")) as string[];
  const first = await start(command);
  const { address } = first;
  let child = first.child;
  const { port, origin } = new URL(address);
  way.home.add(origin);
  try {
    await page.goto(address);
    await plateShown(page);
    await page.keyboard.press("l");
    await clickPlate(page, 0.4, 0.7);
    const what = page.getByLabel("What it looks like");
    await what.waitFor();

    await kill(child);
    await what.fill("a gable");
    await what.press("Enter");
    await page.getByText(GONE).waitFor();
    await page.getByText("Kept here, not yet saved.").waitFor();

    child = (await start([...command, "--port", port])).child;
    await page.getByText(GONE).waitFor({ state: "hidden" });
    await page.getByRole("button", { name: /^A, a gable/ }).waitFor();
    assert.equal(await page.getByText("Kept here, not yet saved.").count(), 0);
  } finally {
    await kill(child);
  }
};

/** Start the program, and return it with the address that it prints. */
function start(command: string[]): Promise<{ child: ChildProcess; address: string }> {
  const [program = "", ...given] = command;
  const child = spawn(program, given, { stdio: ["ignore", "pipe", "inherit"] });
  return new Promise((give, fail) => {
    child.once("exit", (code) => fail(new Error(`The program ended at once, with ${code}.`)));
    createInterface({ input: child.stdout }).on("line", (line) => {
      const address = /http:\S+/.exec(line)?.[0];
      if (address) give({ child, address });
    });
  });
}

async function kill(child: ChildProcess): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  const ended = new Promise((resolve) => child.once("exit", resolve));
  child.kill("SIGKILL");
  await ended;
}
