/** @file A phone picture of a plan: pinned by five corners, its fence followed to the plate. */
import assert from "node:assert/strict";

import type { Locator, Page } from "playwright-core";

import { mouse } from "../hands.ts";
import { accessible, needed, type Spot, type Way } from "../way.ts";

/** Where a pixel of a sheet that is shown whole lies on the screen. */
async function onSheet(sheet: Locator, [x, y]: Spot, [wide, high]: Spot): Promise<Spot> {
  const box = await sheet.boundingBox();
  assert.ok(box);
  const padding = 12;
  const scale = Math.min((box.width - 2 * padding) / wide, (box.height - 2 * padding) / high);
  return [
    box.x + box.width / 2 + (x - wide / 2) * scale,
    box.y + box.height / 2 + (y - high / 2) * scale,
  ];
}

/** Pin a plan by its corners, follow its fence, and see that on the plate. */
export async function pinAndTrace(way: Way): Promise<void> {
  const { page } = way;
  const hands = mouse(page);
  const size = needed(way, "plan_px").split(",").map(Number) as Spot;
  const pins = JSON.parse(needed(way, "pins")) as [string, number, number][];
  const fence = JSON.parse(needed(way, "fence")) as Spot[];
  await page.getByRole("button", { name: "Old plan", exact: true }).click();
  const beside = page.getByRole("region", { name: "Old plan" });
  await hands.choose(beside.getByLabel("Choose files"), needed(way, "plan"));
  const sheet = page.getByRole("application", { name: /^Plan: / });
  await sheet.locator(".scan canvas").first().waitFor();
  await page.getByRole("application", { name: /^Map/ }).waitFor();
  await page.getByText("Click a corner on the plan").waitFor();

  for (const [count, [name, x, y]] of pins.entries()) {
    await page.mouse.click(...(await onSheet(sheet, [x, y], size)));
    await page.getByText("Now click the same spot on the map.").waitFor();
    await beside.getByRole("button", { name }).click();
    await pinOn(page, String(count + 1), "plan").waitFor();
    if (count === 0) await page.getByText(/gives it no scale/).waitFor();
  }
  const table = page.getByRole("table", { name: /^Pins/ });
  assert.equal(await table.getByRole("row").count(), pins.length + 1);
  await page.getByText(/^Each pin was left out and foretold/).waitFor();
  await accessible(page, "a plan being pinned");

  // A wrong corner is named; it is moved back by the keyboard's undo.
  await pinOn(page, "5", "plan").focus();
  const moved = page.waitForResponse((answer) => answer.request().method() === "PUT");
  for (let i = 0; i < 4; i++) await page.keyboard.press("Shift+ArrowRight");
  await moved;
  await undo(page);
  await pinOn(page, "5", "plan").focus();
  await page.keyboard.press("Delete");
  await pinOn(page, "5", "plan").waitFor({ state: "detached" });
  await undo(page);
  await pinOn(page, "5", "plan").waitFor();

  // The error to expect stands under the pointer.
  await page.mouse.move(...(await onSheet(sheet, [500, 380], size)));
  await page.getByText(/a place here is known to .*, 9 times in 10/).waitFor();

  await page.getByRole("button", { name: "Trace", exact: true }).click();
  await page.getByRole("combobox", { name: "What it is" }).fill("fence");
  await page.getByLabel("Stood since").fill("1871");
  for (const at of fence) await page.mouse.click(...(await onSheet(sheet, at, size)));
  await page.getByRole("button", { name: "Keep it" }).click();
  await page.getByText(/^surveyed, give or take/).waitFor();
  await page.getByText(/^One thing on the plate, as wide as the doubt/).waitFor();
  await page.getByRole("checkbox", { name: "Lay it on the map" }).check();
  await accessible(page, "a plan being traced");
  await page.getByRole("button", { name: "Old plan", exact: true }).click();
}

function pinOn(page: Page, name: string, where: "plan" | "map"): Locator {
  return page.getByRole("button", { name: new RegExp(`^Pin on the ${where}: ${name}\\b`) });
}

async function undo(page: Page): Promise<void> {
  const done = page.waitForResponse((answer) => answer.url().endsWith("/api/undo"));
  await page.getByRole("button", { name: "Undo" }).click();
  assert.ok((await done).ok());
}
