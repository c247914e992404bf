/** @file When a plate was exposed: what goes there, dates written, and dates that contradict. */
import assert from "node:assert/strict";

import type { Page } from "playwright-core";

import { accessible, enter, plateIdOf, plateShown, type Flow } from "../way.ts";

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

  await write(page, "1880", "shown, built", "1");
  const conflict = found.getByText(/^No month fits all that is held for certain\. /);
  await conflict.waitFor();
  const says = (await conflict.textContent()) ?? "";
  for (const each of ["exposed 1875", "shown, built 1880"]) assert.ok(says.includes(each), says);
  await accessible(page, "when, with dates that contradict");
};

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
