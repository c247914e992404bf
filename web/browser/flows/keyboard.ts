/** @file Without a mouse: choose the plate, trace, letter, nudge by less than a pixel, undo. */
import assert from "node:assert/strict";

import { enter, plateShown, type Flow } from "../way.ts";
import { pinAndTrace } from "./old-plan.ts";

export const keyboard: Flow = async (way) => {
  const { page } = way;
  await enter(page, "plates");
  const card = page.getByRole("link", { name: /^The mill/ });
  await card.waitFor();
  await card.focus();
  await page.keyboard.press("Enter");
  await page.waitForURL(/#\/looking\//);
  await plateShown(page);

  await page.keyboard.press("s");
  const trace = page.getByRole("button", { name: "Trace by machine" });
  await trace.focus();
  await page.keyboard.press("Enter");
  await page.getByText(/^Traced over/).waitFor();

  // The crosshair stands in the middle; Enter letters what is there.
  await page.keyboard.press("l");
  await page.keyboard.press("q");
  await page.keyboard.press("x");
  await page.keyboard.press("Shift+ArrowUp");
  await page.keyboard.press("Enter");
  const card_ = page.getByRole("region", { name: "Thing seen A" });
  await card_.waitFor();
  const marked = card_.getByText(/^Marked at/);
  const before = placeIn(await marked.textContent());

  const tag = page.getByRole("button", { name: /^A, not tied/ });
  await tag.focus();
  await page.keyboard.press("Alt+ArrowRight");
  await page.keyboard.press("Alt+ArrowRight");
  await page.waitForFunction((x) => {
    const text = [...document.querySelectorAll("p")].find((p) =>
      p.textContent?.startsWith("Marked at"),
    );
    return Number(/at ([\d.]+)/.exec(text?.textContent ?? "")?.[1]) > x;
  }, before[0] + 0.05);
  const after = placeIn(await marked.textContent());
  assert.ok(Math.abs(after[0] - before[0] - 0.2) < 0.06, `moved from ${before} to ${after}`);
  assert.equal(after[1], before[1]);

  await page.keyboard.press("Control+z");
  await marked.filter({ hasText: `${before[0].toFixed(1)},` }).waitFor();

  // Undone at once, a nudge that waits for the next is what is taken back, not the letter.
  await tag.focus();
  const undone = page.waitForResponse((answer) => answer.url().endsWith("/api/undo"));
  await page.keyboard.press("Alt+ArrowRight");
  await page.keyboard.press("Control+z");
  assert.ok((await undone).ok());
  await tag.waitFor();
  await marked.filter({ hasText: `${before[0].toFixed(1)},` }).waitFor();

  // Focus can be seen wherever it is.
  await page.keyboard.press("Tab");
  const outline = await page.evaluate(
    () => getComputedStyle(document.activeElement ?? document.body).outlineStyle,
  );
  assert.notEqual(outline, "none");

  await page.keyboard.press("?");
  await page.getByRole("region", { name: "Keys" }).getByText("Snap pen").waitFor();
  await page.keyboard.press("Escape");
  await page.getByRole("region", { name: "Keys" }).waitFor({ state: "hidden" });

  // In the same run, since a browser takes long to start: an old plan, by mouse.
  await pinAndTrace(way);
};

function placeIn(text: string | null): [number, number] {
  const [, x, y] = /at ([\d.]+), ([\d.]+)/.exec(text ?? "") ?? [];
  return [Number(x), Number(y)];
}
