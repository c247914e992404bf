/** @file Plates of one panorama: things seen on both set by mouse and without, all searched as one. */
import assert from "node:assert/strict";

import type { Page } from "playwright-core";

import { keyboard, mouse, type Hands } from "../hands.ts";
import { accessible, enter, follow, goTo, settled, thePlate, type Spot, type Way } from "../way.ts";

/** Where a thing lies on either plate, as shares of what is on the screen. */
const THINGS: [here: Spot, there: Spot][] = [
  [
    [0.6, 0.6],
    [0.4, 0.6],
  ],
  [
    [0.7, 0.55],
    [0.45, 0.55],
  ],
];

export async function seenOnBoth(way: Way): Promise<void> {
  const { page } = way;
  follow(page);
  const cards = await page.evaluate(
    async () =>
      (await (await fetch("/api/plates")).json()).cards as { id: string; title: string }[],
  );
  const [first, second, third] = cards;
  assert.ok(first && second && third);
  await enter(page, "looking", first.id);
  await page.getByRole("button", { name: "Seen on both", exact: true }).click();
  const which = page.getByLabel("Which picture");
  for (const [turn, hands] of [mouse(page), keyboard(page)].entries()) {
    await point(page, hands, THINGS[turn] as (typeof THINGS)[number]);
    const count = turn === 0 ? "One thing" : "2 things";
    await page.getByText(`${count} seen here and on ${second.title}.`).waitFor();
  }
  await accessible(page, "a thing seen on both plates");
  await which.selectOption({ label: third.title });
  await page.getByText(`Nothing seen here and on ${third.title} yet.`).waitFor();
  await point(page, mouse(page), THINGS[0] as (typeof THINGS)[number]);
  await page.getByText(`One thing seen here and on ${third.title}.`).waitFor();

  // All three are searched as one, from any of them, as the runs before were.
  await goTo(page, mouse(page), "Where");
  await page.getByRole("region", { name: /^Panorama: / }).waitFor();
  assert.ok(await page.getByLabel("Search all 3 plates as one").isChecked());
  await accessible(page, "a panorama before its run");
  await page.getByText("1987.12 and 1987.13: 2 things seen on both.").waitFor();
  const tasks = await page.evaluate(
    async () =>
      (await (await fetch("/api/jobs")).json()) as {
        kind: string;
        asked: { together?: boolean };
      }[],
  );
  const runs = tasks.filter(({ kind }) => kind === "fix");
  assert.ok(runs.length && runs.every(({ asked }) => asked.together), "no joint run was begun");
}

/** Point at one thing here, then on the plate beside. */
async function point(
  page: Page,
  hands: Hands,
  [here, there]: (typeof THINGS)[number],
): Promise<void> {
  const beside = page.getByRole("application", { name: "Another picture" });
  await beside.locator("canvas").first().waitFor();
  await settled(page);
  for (const [sheet, [across, down]] of [
    [thePlate(page), here],
    [beside, there],
  ] as const) {
    const box = await sheet.boundingBox();
    assert.ok(box);
    await hands.point(sheet, [box.x + across * box.width, box.y + down * box.height]);
    if (sheet !== beside) await page.getByText(/^Now the same thing on /).waitFor();
  }
}
