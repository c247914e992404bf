/** @file When a plate was exposed: what goes there, dates written, and dates that contradict. */
import assert from "node:assert/strict";

import type { Locator, Page } from "playwright-core";

import { accessible, enter, part, plateIdOf, plateShown, thePlate, type Flow } from "../way.ts";

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

  await byAnotherPlate(page);
  await sunByAShadow(page);
  await wallAndBlur(page);

  await fromSources(page);
  await boxed(page, plateIdOf(page));
  await write(page, "1880", "shown, built", "1");
  const conflict = found.getByText(/^No month fits all that is held for certain\. /);
  await conflict.waitFor();
  const says = (await conflict.textContent()) ?? "";
  for (const each of ["exposed 1875", "shown, built 1880"]) assert.ok(says.includes(each), says);
  await accessible(page, "when, with dates that contradict");
};

/** Name a date's source, keep one that never was as written, and where the maker was. */
async function fromSources(page: Page): Promise<void> {
  const cited = "Vellin Herald, 12 June 1877";
  const dates = page
    .locator("section")
    .filter({ has: page.getByRole("heading", { name: "Dates and bounds" }) });
  const item = dates.locator("details").filter({ hasText: "1875" }).first();
  await item.locator("summary").click();
  await item.getByLabel("Source").selectOption("new");
  await item.getByLabel("How it is cited").fill(cited);
  await item.getByRole("button", { name: "Write it down" }).click();
  await page.getByText(`By: ${cited}`).waitFor();
  await dates.getByLabel("Add a date").fill("30 February 1871");
  await dates.getByRole("button", { name: "Add", exact: true }).click();
  await dates.getByText("“30 February 1871”").waitFor();
  await page.getByText(/^“30 February 1871” is left out: /).waitFor();
  // A maker who was elsewhere on some days.
  await page.evaluate(async (plateId) => {
    const send = async (
      method: string,
      path: string,
      body?: object,
    ): Promise<{ id: string; revision: number }> =>
      (
        await fetch(`/api/items/${path}`, {
          method,
          headers: { "content-type": "application/json" },
          ...(body ? { body: JSON.stringify(body) } : {}),
        })
      ).json() as Promise<{ id: string; revision: number }>;
    const { id } = await send("POST", "makers", { name: "B. Hale" });
    const { revision } = await send("GET", `plates/${plateId}`);
    await send("PATCH", `plates/${plateId}`, { maker_id: id, revision });
  }, plateIdOf(page));
  const ways = page.getByRole("region", { name: "The ways of B. Hale" });
  await ways.getByLabel("What is said, as written").fill("Mr Hale is at the Ferry Hotel");
  await ways.getByLabel("On which day").fill("1 to 9 June 1877");
  await ways.getByLabel("Where, longitude").fill("170.5, -45.9");
  await ways.getByLabel("Source").selectOption({ label: cited });
  await ways.getByRole("button", { name: "Keep that" }).click();
  await ways.getByText(`1877-06-01 – 1877-06-09, by cart · ${cited}`).waitFor();
}

/** Lay the plate into a box, on a shelf that carries less. */
async function boxed(page: Page, plateId: string): Promise<void> {
  await enter(page, "plates");
  await part(page, "Boxes and shelves").click();
  await page.getByLabel("Box", { exact: true }).fill("Box 3");
  await page.getByLabel("Stands on the shelf").fill("A");
  await page.getByLabel("The shelf may carry, kg").fill("20");
  await page.getByLabel("Plates in it, counted").fill("200");
  await page.getByRole("button", { name: "Keep the box" }).click();
  await page.getByText("of 20 kg that the shelf may carry: 7 kg too much").waitFor();
  await accessible(page, "boxes and shelves");
  await enter(page, "when", plateId);
}

/** Mark a shadow on the plate, and find the hour that it tells, on the sheet of days by hours. */
async function sunByAShadow(page: Page): Promise<void> {
  const plateId = plateIdOf(page);
  await page.getByRole("button", { name: "Mark a shadow on the plate" }).click();
  await plateShown(page);
  // Foot, tip and top, on the ground before the camera.
  await clickAt(page, [0.55, 0.8], [0.42, 0.8], [0.55, 0.66]);
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
}

/** Mark a wall's shadow and a blur with what must be known of them, and see what they tell. */
async function wallAndBlur(page: Page): Promise<void> {
  const plateId = plateIdOf(page);
  const keep = page.getByRole("button", { name: "Keep it" });
  await page.getByRole("button", { name: "Mark a wall’s shadow" }).click();
  await plateShown(page);
  await clickAt(page, [0.55, 0.8], [0.55, 0.66], [0.42, 0.8]);
  assert.ok(await keep.isDisabled(), "a wall was kept that runs no way");
  await page.getByLabel("The wall runs, from true north").fill("80");
  await keep.click();
  await page.getByRole("button", { name: "Shadow of a wall", exact: true }).last().waitFor();
  await page.keyboard.press("t");
  await clickAt(page, [0.3, 0.8], [0.33, 0.8]);
  await page.getByLabel("What moved").selectOption("cart");
  await page.getByLabel("How far away").fill("60");
  await keep.click();
  await page.getByRole("button", { name: "Blur: cart", exact: true }).last().waitFor();
  await enter(page, "when", plateId);
  const made = page.getByRole("region", { name: "How it was made" });
  await made.getByText(/cart/).first().waitFor();
  // A zone's time is remembered with the daybook.
  const sun = page.getByRole("region", { name: "The sun: days by hours" });
  await sun.getByLabel(/^Tell the time of a zone too/).fill("-8.5");
  await sun.getByLabel(/^Tell the time of a zone too/).press("Tab");
  await sun.getByText(/^In the zone -8\.5 h: \d/).waitFor();
  const kept = await page.evaluate(async () => (await (await fetch("/api/state")).json()).settings);
  assert.equal(kept.zone_hours, -8.5);
  await accessible(page, "when, with all that a picture shows");
}

/** Keep that another plate is younger, what the river shows, and where the flood stood. */
async function byAnotherPlate(page: Page): Promise<void> {
  const shows = page.getByRole("region", { name: "What the picture itself shows" });
  const form = (label: string): Locator =>
    shows.locator("form").filter({ has: page.getByLabel(label) });
  const add = async (label: string, what: string, said: string): Promise<void> => {
    await form(label).getByLabel(label).selectOption(what);
    await form(label).getByRole("button", { name: "Add", exact: true }).click();
    await shows.getByText(said).waitFor();
  };
  await add("Add a sign of the season", "low river", "Sign of the season: low river");
  await add("Add what is seen of tide or flood", "flood mark", "Seen of the water: flood mark");
  await page.getByText(/\(flood mark\) is kept as it was seen: no tide/).waitFor();
  await ownRegion(page, add);
  // Another plate, of the year after, lacks nothing that this one shows.
  await page.evaluate(async () => {
    const give = (table: string, body: object): Promise<Response> =>
      fetch(`/api/items/${table}`, {
        method: "POST",
        headers: { "content-type": "application/json" },
        body: JSON.stringify(body),
      });
    const { id } = await (await give("plates", { key: "later" })).json();
    await give("dates", { plate_id: id, edtf: "1875-06", of: "exposed", trust: 1 });
  });
  const order = form("Another plate of the same place");
  const which = order.getByLabel("Another plate of the same place");
  await which.focus();
  await which.locator("option", { hasText: "later" }).waitFor({ state: "attached" });
  await which.selectOption({ label: "later" });
  await order.getByLabel("It is").selectOption("younger");
  await order.getByLabel("What tells so").fill("a gate there");
  await order.getByRole("button", { name: "Add", exact: true }).click();
  await page.getByText("later is younger: a gate there").first().waitFor();
}

/** Take a table of one's own in, and choose from it. */
async function ownRegion(
  page: Page,
  add: (label: string, what: string, said: string) => Promise<void>,
): Promise<void> {
  await part(page, "Your own region").click();
  const rows = [
    'name = "blue mounts"',
    'dates = "exposure"',
    "first = 1874",
    "general_from = 1874",
  ];
  await page.getByLabel("Processes, mounts and formats (TOML)").setInputFiles({
    name: "fell.toml",
    mimeType: "application/toml",
    buffer: Buffer.from(`[[period]]\n${rows.join("\n")}\n`),
  });
  await page.getByText(/^Processes, mounts and formats: fell\.toml/).waitFor();
  await add("Add a process, mount or format", "blue mounts", "mount or format: blue mounts");
  await page.getByLabel(/The Julian calendar was kept here/).check();
}

/** Click the plate at shares of what it is shown in. */
async function clickAt(page: Page, ...places: [number, number][]): Promise<void> {
  const box = await thePlate(page).boundingBox();
  assert.ok(box);
  for (const [right, down] of places)
    await page.mouse.click(box.x + right * box.width, box.y + down * box.height);
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
