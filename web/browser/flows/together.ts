/** @file Two tabs at once, and a task that outlives a reload, is stopped, or breaks off. */
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";

import type { Page } from "playwright-core";

import { mouse, write } from "../hands.ts";
import { seenOnBoth } from "./seen-on-both.ts";
import { clickPlate, enter, goTo, plateShown, type Flow } from "../way.ts";

/** End the processes that the program, which began this one, does its tasks in. */
function endWorkers(): number {
  const pids = readdirSync("/proc").filter((name) => /^\d+$/.test(name));
  const workers = pids.filter((pid) => {
    try {
      const [, parent] = /\) \S (\d+)/.exec(readFileSync(`/proc/${pid}/stat`, "utf8")) ?? [];
      const command = readFileSync(`/proc/${pid}/cmdline`, "utf8");
      return Number(parent) === process.ppid && command.includes("wherestood.server.jobs.worker");
    } catch {
      return false; // it ended meanwhile
    }
  });
  for (const pid of workers) process.kill(Number(pid), "SIGKILL");
  return workers.length;
}

export const together: Flow = async (way) => {
  const { page, context } = way;
  const hands = mouse(page);
  let streams = 0;
  context.on("request", (request) => {
    if (request.url().endsWith("/api/events") && request.frame().page() !== page) streams++;
  });
  await enter(page, "plates");
  await page
    .getByRole("link", { name: /^The mill/ })
    .first()
    .click();
  await page.waitForURL(/#\/looking\//);
  await plateShown(page);

  // What is lettered in one tab stands in the other, and is undone from there.
  const second = await context.newPage();
  await second.goto(page.url());
  await plateShown(second);
  await page.keyboard.press("l");
  await clickPlate(page, 0.4, 0.7);
  await page.getByRole("region", { name: "Thing seen A" }).waitFor();
  const there = second.getByRole("button", { name: /^A, not tied/ });
  await there.waitFor();
  await second.getByRole("button", { name: "Undo" }).click();
  await there.waitFor({ state: "detached" });
  await page.getByRole("button", { name: /^A, not tied/ }).waitFor({ state: "detached" });

  // What one tab writes while the other types is not overwritten: a person says which stands.
  await goTo(page, hands, "Hand over");
  await goTo(second, mouse(second), "Hand over");
  const [here, other] = [page, second].map((tab) => tab.getByLabel("Title", { exact: true }));
  assert.ok(here && other);
  let go: () => void = () => undefined;
  const letGo = new Promise<void>((resolve) => (go = resolve));
  await page.route("**/api/items/plates/*", async (route) => {
    await letGo;
    await route.continue();
  });
  await write(here, "The mill from above");
  await write(other, "The mill from below");
  const headed = (tab: Page, title: string) =>
    tab.getByRole("heading", { level: 1, name: title }).waitFor();
  await headed(second, "The mill from below");
  go();
  await page.getByText(/^Meanwhile this was changed to “The mill from below”/).waitFor();
  assert.equal(await here.inputValue(), "The mill from above");
  await page.getByRole("button", { name: "Keep mine" }).click();
  await Promise.all([page, second].map((tab) => headed(tab, "The mill from above")));
  await page.unroute("**/api/items/plates/*");

  // A task goes on through a reload, is seen in both tabs, and can be stopped.
  await goTo(page, hands, "Where");
  await page.getByRole("button", { name: "Find where the camera stood" }).click();
  const stop = page.getByRole("button", { name: /^Stop:/ });
  await stop.first().waitFor();
  await second
    .getByRole("button", { name: /^Stop:/ })
    .first()
    .waitFor();
  assert.equal(streams, 0, "the second tab opened a stream of events of its own");
  await page.reload(); // the second tab takes the stream over
  await stop.last().click();
  await stop.first().waitFor({ state: "detached" });
  await page.getByRole("button", { name: "Find where the camera stood" }).waitFor();

  // A task whose process is ended from outside says so in both tabs, and is begun again.
  await page.getByRole("button", { name: "Find where the camera stood" }).click();
  await page.waitForFunction(async () => {
    const jobs = (await (await fetch("/api/jobs")).json()) as { state: string; stage: string }[];
    return jobs.some(({ state, stage }) => state === "running" && stage !== "");
  });
  assert.ok(endWorkers() > 0, "no process of the program does its tasks");
  const broke = /broke off. Nothing was changed by it/;
  await Promise.all([page, second].map((tab) => tab.getByText(broke).waitFor()));
  await page.getByRole("button", { name: "Try again" }).click();
  await stop.first().waitFor();
  await page.getByText(broke).waitFor({ state: "detached" });
  await stop.last().click();
  await stop.first().waitFor({ state: "detached" });

  await second.close();

  // In the same run, since a browser takes long to start: the plates of its panorama.
  await seenOnBoth(way);
};
