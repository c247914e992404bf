/** @file From an empty daybook all the way to a comparison, as somebody new would go.
 *
 * By mouse to the end; without one as far as the run, which is stopped: what follows is gone
 * through from the keyboard with an answer that is there.
 */
import assert from "node:assert/strict";

import { keyboard, mouse, write, type Hands } from "../hands.ts";
import { decideAndCompare } from "./answer.ts";
import { goTo, needed, onPlate, part, plateIdOf, plateShown, thePlate, type Way } from "../way.ts";

/** How wide the ground searched is, and how far north of its middle the summit stands. */
const SEARCHED_M = 600;
const SUMMIT_NORTH_M = 2500;
/** Presses that bring the summit onto the map. */
const TIMES_FARTHER = 6;
const STEP = 1.5;
/** How large the circle is that is drawn for the run, and the one that a claim is tested by. */
const DRAWN_M = 14;
const NEAR_ENOUGH_M = 10;
const HEADINGS: Record<string, string> = {
  located: "The camera stood here.",
  "several places": "Several places fit.",
  "not determined": "This can’t be told yet.",
};
/** So far below the middle of the map nothing stands that takes the pointer [px]. */
const ASIDE_PX = 60;

export async function firstCase(way: Way): Promise<void> {
  const hands = mouse(way.page);
  await asFarAsTheRun(way, hands);
  await toTheEnd(way, hands);
}

export async function byKeyboard(way: Way): Promise<void> {
  const hands = keyboard(way.page);
  await asFarAsTheRun(way, hands);
  await stopped(way, hands);
}

async function asFarAsTheRun(way: Way, hands: Hands): Promise<void> {
  const { page } = way;
  const button = (name: string | RegExp) => page.getByRole("button", { name, exact: true }).first();

  // A scan, by choosing the file.
  await page.getByText("A daybook begins with a scan.").waitFor();
  await hands.choose(page.locator("main input[type=file]").first(), needed(way, "scan"));
  await page.waitForURL(/#\/looking\//);
  await plateShown(page);
  const plateId = plateIdOf(page);

  // Roughly where; it says which terrain to get, and takes it.
  await hands.press(button("Map"));
  await write(page.getByLabel("Ground searched"), needed(way, "ground"));
  await page.getByRole("heading", { name: "Which terrain to get" }).waitFor();
  await hands.choose(page.getByLabel("Choose files").first(), needed(way, "terrain"));
  const map = page.getByRole("application", { name: /^Map/ });
  await map.waitFor();

  // Trace by machine, open a gap by hand, take it back.
  await hands.press(button("Skyline"));
  await hands.press(button("Trace by machine"));
  const traced = page.getByText(/^Traced over/);
  await traced.filter({ hasText: "one piece" }).waitFor();
  await hands.press(button("Gap"));
  await hands.stroke(thePlate(page), await onPlate(page, 0.2, 0.5), await onPlate(page, 0.26, 0.5));
  await traced.filter({ hasText: "2 pieces; mended by hand" }).waitFor();
  await hands.press(button("Undo"));
  await traced.filter({ hasText: "one piece" }).waitFor();

  // Letter the summit, say what it is, tie it to its place on the map.
  await hands.press(button("Letter"));
  await hands.point(thePlate(page), await onPlate(page, 0.5, 160 / 480));
  const card = page.getByRole("region", { name: "Thing seen A" });
  await card.waitFor();
  await write(card.getByLabel("What it looks like"), "round hill");
  await page.getByRole("button", { name: /^A, round hill, not tied/ }).waitFor();
  await hands.press(card.getByRole("button", { name: "Tie it to the map" }));
  const farther = page.getByRole("button", { name: "Farther" }).first();
  for (let i = 0; i < TIMES_FARTHER; i++) await hands.press(farther);
  const box = await map.boundingBox();
  assert.ok(box);
  const whole_px = Math.min(box.width, box.height) - 56;
  const metres_per_px = (SEARCHED_M / whole_px) * STEP ** TIMES_FARTHER;
  const middle: [number, number] = [box.x + box.width / 2, box.y + box.height / 2];
  await hands.point(map, [middle[0], middle[1] - SUMMIT_NORTH_M / metres_per_px]);
  await card.getByText("Taken to be: round hill").waitFor();

  // Draw the ground searched anew: a small circle, since a search of all of it takes long.
  const nearer = page.getByRole("button", { name: "Nearer" }).first();
  for (let i = 0; i < TIMES_FARTHER; i++) await hands.press(nearer);
  const before = await searched(way, plateId);
  await hands.press(button("Circle"));
  const [x, y] = [middle[0], middle[1] + ASIDE_PX];
  await hands.stroke(map, [x, y], [x + (DRAWN_M * whole_px) / SEARCHED_M, y]);
  await page.waitForFunction(
    async ([id, was]) =>
      (await (await fetch(`/api/plates/${id}`)).json()).plate.ground_searched !== was,
    [plateId, before] as const,
  );

  // Somebody's answer, then the run, which tests it too.
  await goTo(page, hands, "Where");
  await hands.press(part(page, "Somebody’s answer"));
  await page.getByLabel("Whose").fill("the catalogue");
  await page.getByLabel("Longitude, latitude", { exact: true }).fill(needed(way, "proposed"));
  await hands.press(button("Add"));
  await page.getByText("Not tested yet.").first().waitFor();
  // Typed and not entered: the run is to know of it all the same.
  await page.getByLabel("Near enough").fill(String(NEAR_ENOUGH_M));
  await hands.press(button("Find where the camera stood"));
  await page
    .getByRole("button", { name: /^Stop:/ })
    .last()
    .waitFor();
  await page.getByRole("progressbar").first().waitFor();
}

async function stopped({ page }: Way, hands: Hands): Promise<void> {
  await hands.press(page.getByRole("button", { name: /^Stop:/ }).last());
  await page.getByRole("button", { name: "Find where the camera stood" }).first().waitFor();
}

/** The run's own verdict, what it says of somebody's answer, a decision, the comparison. */
async function toTheEnd({ page }: Way, hands: Hands): Promise<void> {
  const told = page.getByRole("region", { name: "The answer" });
  await page
    .getByRole("button", { name: /^Stop:/ })
    .first()
    .waitFor({ state: "detached" });
  await told.waitFor();
  const fix = await page.evaluate(async (id) => {
    const { fixes } = await (await fetch(`/api/plates/${id}`)).json();
    return (await (await fetch(`/api/fixes/${fixes[0].id}`)).json()) as {
      fix: { verdict: string; near_enough_m: number };
      screen: { odds: string; proposed: { verdict: string; sentence: string }[] };
    };
  }, plateIdOf(page));
  assert.equal(fix.fix.near_enough_m, NEAR_ENOUGH_M, "the run did not wait for what was typed");
  assert.equal(await told.getByRole("heading").first().textContent(), HEADINGS[fix.fix.verdict]);
  await told.getByText(fix.screen.odds).first().waitFor();
  await page.getByRole("button", { name: /^Camera position, looks/ }).waitFor();

  // Somebody's answer was weighed by the same run.
  const [claim] = fix.screen.proposed;
  assert.ok(claim, "the run did not weigh somebody's answer");
  const sentence = page.locator("aside p").filter({ hasText: claim.sentence });
  await sentence.waitFor({ state: "attached" });
  if (!(await sentence.isVisible())) await hands.press(part(page, "Somebody’s answer"));
  await sentence.waitFor();

  await decideAndCompare(page, hands);
}

async function searched({ page }: Way, plateId: string): Promise<string> {
  return page.evaluate(
    async (id) => (await (await fetch(`/api/plates/${id}`)).json()).plate.ground_searched,
    plateId,
  );
}
