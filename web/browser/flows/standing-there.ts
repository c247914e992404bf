/** @file There again: a fence drawn on the plate for the map, a visit kept, a photograph asked about. */
import assert from "node:assert/strict";

import { accessible, clickPlate, enter, needed, plateIdOf, plateShown, type Way } from "../way.ts";

export async function standingThere(way: Way): Promise<void> {
  const { page } = way;
  const plateId = plateIdOf(page);

  // A fence across the plain: where it lies is told before it is kept, and it comes back.
  await enter(page, "ground", plateId);
  await plateShown(page);
  const draw = page.getByRole("region", { name: "Draw on the plate, for the map" });
  await draw.getByRole("button", { name: "How well can it be mapped from?" }).click();
  await draw.getByText(/of the frame is not sky/).waitFor();
  await draw.getByRole("button", { name: "Line", exact: true }).click();
  await clickPlate(page, 0.3, 0.62);
  await clickPlate(page, 0.7, 0.6);
  await page.keyboard.press("Enter");
  await draw.getByText(/nine in ten within/).waitFor();
  await draw.getByLabel("Its name").fill("long fence");
  await draw.getByLabel("What it is").fill("fence");
  await draw.getByRole("button", { name: "Keep it on the map" }).click();
  await draw.getByText(/^Kept as feature-/).waitFor();
  await draw.getByText(/things? shown, /).waitFor();
  await page.getByRole("checkbox", { name: /^Haze/ }).uncheck();
  await accessible(page, "a fence drawn on the plate");

  // What was read on the spot is kept by clicking; the tripod stands on the map.
  await enter(page, "visit", plateId);
  const sheet = page.getByRole("region", { name: /^Field sheet/ });
  await sheet.waitFor();
  const back = page.getByRole("region", { name: "Coming back" });
  const [lon = "", lat = ""] = needed(way, "proposed").split(/,\s*/);
  await back.getByLabel("Longitude, latitude").fill(`${lon}, ${lat}`);
  await back.getByRole("button", { name: "Add to the list" }).click();
  await back.getByLabel("What was read").selectOption({ label: "The view matches the picture" });
  await back.getByLabel("To within, m").fill("4");
  await back.getByRole("button", { name: "Add to the list" }).click();
  await back.getByLabel("Day of the visit").fill("2026-05-31");
  await back.getByLabel("Who was there").fill("Ada Moss");
  await back.getByRole("button", { name: "Keep this visit" }).click();
  await back.getByText(/^Kept as source-/).waitFor();
  await sheet.getByText(/the tripod stood /).waitFor();

  // A photograph that says nothing of itself is asked about.
  const both = page.getByRole("region", { name: "Then and now" });
  await both.locator("input[type=file]").setInputFiles(needed(way, "scan"));
  await both.getByText("does not say where it was made").waitFor();
  const compare = both.getByRole("button", { name: "Compare with the plate" });
  await compare.click();
  const unanswered = await both.locator("input:invalid").count();
  assert.ok(unanswered >= 4, `${unanswered} questions stop it`);
  for (const box of await both.getByRole("checkbox").all()) await box.check();
  assert.equal(await both.locator("input:invalid").count(), 0);
  await both.getByRole("button", { name: "Mark things on both" }).click();
  const theirs = both.getByRole("application", { name: /^Photograph: press a thing/ });
  await theirs.locator("img").waitFor();
  await clickPlate(page, 0.4, 0.5);
  await both.getByText("not on the photograph yet").waitFor();
  await theirs.focus();
  await theirs.press("ArrowRight");
  await theirs.press("Enter");
  await both.getByText("on both", { exact: true }).waitFor();
  await both.getByLabel("1: distance if measured, m").fill("21.5");
  await theirs.click();
  await both.getByText("not on the plate yet").waitFor();
  await accessible(page, "visit, with a photograph asked about and marked");
  await both.getByRole("button", { name: "Leave out mark 2" }).click();
  await both.getByText("not on the plate yet").waitFor({ state: "detached" });
  await both.getByRole("button", { name: "Leave it" }).click();

  await page.getByRole("button", { name: "Show the map" }).click();
  await page.getByRole("application", { name: /^Map/ }).waitFor();
  await page.getByText("long fence").first().waitFor();
  await accessible(page, "visit, with the map");
}
