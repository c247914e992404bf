/** @file Go three ways as somebody new would, and count: `node walk.ts ADDRESS LON,LAT [FOLDER]`.
 *
 * In the demo's daybook with its answer: add a mark and run again; test somebody's answer;
 * switch a doubtful thing off. Prints, for each, clicks, entries typed, and seconds by the
 * clock, waiting for the machine told apart, and takes a picture where each ends. A person
 * takes longer to look than this does; clicks are the same.
 */
import { mkdirSync } from "node:fs";

import { chromium, type Locator } from "playwright-core";

import { follow, onPlate, part, plateShown, settled, sizeOf, thePlate } from "./way.ts";

const [address = "", proposed = "", folder = ""] = process.argv.slice(2);
/** The demo's left chimney, as shares of the plate, and what a walker called its place. */
const CHIMNEY = [0.278, 0.611] as const;
const HEARTH = "Hearth of the left cottage";
const HOURS_MS = 6 * 3600 * 1000;

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu"],
});
const page = await browser.newPage({ viewport: { width: 1280, height: 720 } });
page.setDefaultTimeout(HOURS_MS);
follow(page);
let clicks = 0;
let typed = 0;
let waited_ms = 0;
const button = (name: string | RegExp): Locator =>
  page.getByRole("button", { name, exact: true }).first();

async function click(what: Locator): Promise<void> {
  await what.click();
  clicks++;
}

async function type(field: Locator, text: string): Promise<void> {
  await field.fill(text);
  await field.press("Enter");
  typed++;
}

/** Wait for a run that was asked for. */
async function answered(): Promise<void> {
  const began = Date.now();
  const stop = page.getByRole("button", { name: /^Stop:/ });
  await stop.first().waitFor();
  await stop.first().waitFor({ state: "detached" });
  await page.getByRole("region", { name: "The answer" }).waitFor();
  waited_ms += Date.now() - began;
}

async function counted(task: string, go: () => Promise<string>): Promise<void> {
  [clicks, typed, waited_ms] = [0, 0, 0];
  const began = Date.now();
  const read = await go();
  const by_hand_s = (Date.now() - began - waited_ms) / 1000;
  console.log(
    JSON.stringify({ task, clicks, typed, by_hand_s, machine_s: waited_ms / 1000, read }),
  );
}

async function picture(name: string): Promise<void> {
  if (!folder) return;
  mkdirSync(folder, { recursive: true });
  await settled(page);
  await page.screenshot({ path: `${folder}/${name}.png` });
}

try {
  await page.goto(address);
  await plateShown(page);
  const size = await sizeOf(page);

  await counted("a mark added, and run again", async () => {
    await click(button("Letter"));
    await page.mouse.click(...(await onPlate(page, ...CHIMNEY, size)));
    clicks++;
    await type(page.getByLabel("What it looks like"), "chimney");
    await click(button("Map"));
    await page.getByRole("application", { name: /^Map/ }).waitFor();
    await click(button("Tie it to the map"));
    await click(page.locator("button.feature .name", { hasText: HEARTH }));
    await page.getByText(/^Taken to be/).waitFor();
    await picture("a-mark-tied");
    await click(page.getByRole("link", { name: "Where", exact: true }));
    await click(button(/^Find it again|^Find where/));
    await answered();
    await picture("found-again");
    return (
      (await page.getByRole("region", { name: "The answer" }).innerText()).split("\n", 1)[0] ?? ""
    );
  });

  await counted("somebody's answer tested", async () => {
    await click(part(page, "Somebody’s answer"));
    await type(page.getByLabel("Whose"), "the catalogue");
    await page.getByLabel("Longitude, latitude", { exact: true }).fill(proposed);
    typed++;
    await click(button("Add"));
    await click(button("Test it").last());
    await answered();
    const verdict = page.getByText(/^It (fits|fits poorly|can’t be)\.$/).last();
    await verdict.waitFor();
    await verdict.scrollIntoViewIfNeeded();
    await picture("somebodys-answer");
    return verdict.innerText();
  });

  await counted("one thing switched off", async () => {
    const row = page
      .getByRole("row")
      .filter({ has: page.getByRole("switch") })
      .first();
    await click(row.getByRole("switch"));
    await page.getByText(/switched off for the next run/).waitFor();
    await picture("switched-off");
    return (await row.innerText()).replaceAll(/\s+/g, " ");
  });
  await thePlate(page).waitFor();
} finally {
  await browser.close();
}
