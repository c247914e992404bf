/** @file When a plate was exposed: what goes there, dates written, and dates that contradict. */
import assert from "node:assert/strict";

import type { Page } from "playwright-core";

import { accessible, enter, plateIdOf, plateShown, thePlate, type Flow } from "../way.ts";

export const whenExposed: Flow = async (way) => {
  const { page } = way;
  await plateShown(page);
  await enter(page, "when", plateIdOf(page));
  const found = page.getByRole("region", { name: "What follows from all of it" });
  await found.getByText(/^Nothing dates this plate yet\./).waitFor();
  await accessible(page, "when, without a date");

  // Held for certain: a year, and a thing that was built by its end.
  await write(page, "1875", "exposed", "1");
  await found.getByText("Nine in ten: January 1875 to ").waitFor();
  await page.getByRole("img", { name: /^How probable every month is\. Nine in ten: / }).waitFor();
  await page.getByRole("img", { name: /^On a line of years: exposed 1875\.$/ }).waitFor();
  await accessible(page, "when, with a date");

  await sunByAShadow(page);

  await write(page, "1880", "shown, built", "1");
  const conflict = found.getByText(/^No month fits all that is held for certain\. /);
  await conflict.waitFor();
  const says = (await conflict.textContent()) ?? "";
  for (const each of ["exposed 1875", "shown, built 1880"]) assert.ok(says.includes(each), says);
  await accessible(page, "when, with dates that contradict");
};

/** Mark a shadow on the plate, and find the hour that it tells, on the sheet of days by hours. */
async function sunByAShadow(page: Page): Promise<void> {
  const plateId = plateIdOf(page);
  await page.getByRole("button", { name: "Mark a shadow on the plate" }).click();
  await plateShown(page);
  const box = await thePlate(page).boundingBox();
  assert.ok(box);
  // Foot, tip and top, on the ground before the camera.
  for (const [right, down] of [
    [0.55, 0.8],
    [0.42, 0.8],
    [0.55, 0.66],
  ] as const)
    await page.mouse.click(box.x + right * box.width, box.y + down * box.height);
  await page.getByRole("button", { name: "Shadow", exact: true }).last().waitFor();
  await enter(page, "when", plateId);
  const sun = page.getByRole("region", { name: "The sun: days by hours" });
  await sun.getByRole("img", { name: /^Days of the year by hours of the day/ }).waitFor();
  await sun.getByText(/^It stood in .* high\.$/).waitFor();
  await sun.getByText(/local mean time, give or take/).waitFor();
  const shows = page.getByRole("region", { name: "What the picture itself shows" });
  await shows.getByLabel("Add an hour that is known").fill("25:70");
  const add = shows.locator("form").filter({ has: page.getByLabel("Its clock") });
  await add.getByRole("button", { name: "Add", exact: true }).click();
  await page.getByText("is no hour of a day").first().waitFor();
  await shows.getByLabel("Add a sign of the season").selectOption("leaf");
  await shows
    .locator("form")
    .filter({ has: page.getByLabel("Add a sign of the season") })
    .getByRole("button", { name: "Add", exact: true })
    .click();
  await shows.getByText("Sign of the season: leaf").waitFor();
  await page.getByRole("region", { name: "How it was made" }).getByText("Left and right").waitFor();
  await accessible(page, "when, with the sun");
}

/** Write a date, what was dated, and how probable it is right. */
async function write(page: Page, edtf: string, of: string, trust: string): Promise<void> {
  const dates = page
    .locator("section")
    .filter({ has: page.getByRole("heading", { name: "Dates and bounds" }) });
  await dates.getByLabel("Add a date").fill(edtf);
  await dates.getByRole("button", { name: "Add", exact: true }).click();
  const item = dates.locator("details").filter({ hasText: edtf });
  await item.locator("summary").click();
  await item.getByLabel("It says").selectOption(of);
  const field = item.getByLabel("How probable it is right, 0 to 1");
  await field.fill(trust);
  await field.blur();
}
