/** @file Every room, light and dark: nothing amiss for axe, nothing wider than the window. */
import assert from "node:assert/strict";

import type { Page } from "playwright-core";

import { accessible, enter, plateIdOf, plateShown, thePlate, type Flow } from "../way.ts";

const ROOMS = ["looking", "where", "ground", "when", "leads", "visit", "handover"] as const;
/** On a 13-inch screen the plate keeps two thirds of the width until something is called. */
const LEAST_SHARE = 2 / 3;

export const everyView: Flow = async (way) => {
  const { page } = way;
  await enter(page, "plates");
  const card = page.getByRole("link", { name: /^The mill/ });
  await card.waitFor();
  await accessible(page, "plates");
  await page.getByRole("button", { name: "Time line" }).click();
  await accessible(page, "plates on a time line");
  await page.getByRole("button", { name: "Camera positions" }).click();
  await page
    .getByRole("application")
    .or(page.getByText(/^No camera position/))
    .first()
    .waitFor();
  await accessible(page, "plates on a map");
  await page.getByRole("button", { name: "Contact sheet" }).click();
  await card.click();
  await plateShown(page);
  const plateId = plateIdOf(page);

  const plate = await thePlate(page).boundingBox();
  assert.ok(plate && plate.width / 1280 >= LEAST_SHARE, `the plate is ${plate?.width} px wide`);

  for (const colorScheme of ["light", "dark"] as const) {
    await page.emulateMedia({ colorScheme });
    for (const room of ROOMS) {
      await shown(page, room, plateId);
      await accessible(page, `${room}, ${colorScheme}`);
    }
  }

  // Handing out is looked at first, then had as a file. A photograph that is kept is
  // offered for as long as the page that shows it is wanted.
  const offered = page.getByRole("checkbox", { name: /^Photographs made on the spot/ });
  await offered.check();
  await page.getByRole("button", { name: "None", exact: true }).click();
  await offered.waitFor({ state: "detached" });
  await page.getByRole("checkbox", { name: /^CSV/ }).check();
  await page.getByRole("button", { name: "What would go out?" }).click();
  await page.getByText(/^One plate, /).waitFor();
  await page.getByRole("button", { name: "Make the zip" }).click();
  const saved = page.waitForEvent("download");
  await page.getByRole("link", { name: "Save the zip" }).click();
  assert.equal((await saved).suggestedFilename(), "public.zip");
  await accessible(page, "what was handed out");

  // At 200% a screen has half as many pixels: nothing is out of reach sideways.
  await page.setViewportSize({ width: 640, height: 360 });
  for (const room of ROOMS) {
    await shown(page, room, plateId);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    const widest = wide > 0 ? await beyondRight(page) : "";
    assert.ok(wide <= 0, `${room} is ${wide} px wider than a window at 200%: ${widest}`);
    const cut = await beyondReach(page);
    assert.deepEqual(cut, [], `in ${room} at 200% these cannot be reached`);
    const over = await covered(page);
    assert.deepEqual(over, [], `in ${room} at 200% something lies over these`);
  }
  await accessible(page, "hand over at 200%");
};

async function shown(page: Page, room: (typeof ROOMS)[number], plateId: string): Promise<void> {
  await enter(page, room, plateId);
  await page.locator(`nav a[aria-current=page][href*="${room}"]`).waitFor();
  await plateShown(page);
}

/** Name the controls that lie outside the window and in nothing that scrolls. */
function beyondReach(page: Page): Promise<string[]> {
  return page.evaluate(() => {
    const scrolls = (found: Element): boolean => {
      const { overflowY, overflowX } = getComputedStyle(found);
      return [overflowY, overflowX].some((how) => how === "auto" || how === "scroll");
    };
    const held = (found: Element): boolean => {
      for (let up = found.parentElement; up; up = up.parentElement) if (scrolls(up)) return true;
      return false;
    };
    return [...document.querySelectorAll("button, input, select, textarea, summary, a")]
      .filter((found) => found.checkVisibility() && !found.closest("[data-own], .out-of-sight"))
      .filter((found) => !found.classList.contains("out-of-sight"))
      .filter((found) => {
        const { left, right, top, bottom, width } = found.getBoundingClientRect();
        const outside = left < -1 || top < -1 || right > innerWidth + 1 || bottom > innerHeight + 1;
        return width > 0 && outside && !held(found);
      })
      .map((found) => `${found.tagName} ${found.getAttribute("aria-label") ?? found.textContent}`);
  });
}

/** Name the controls that are in sight but for something that lies over their middle. */
function covered(page: Page): Promise<string[]> {
  return page.evaluate(() => {
    const inSight = (found: Element, x: number, y: number): boolean => {
      for (let up: Element | null = found; up; up = up.parentElement) {
        const { left, right, top, bottom } = up.getBoundingClientRect();
        const clips = up === found || getComputedStyle(up).overflow !== "visible";
        if (clips && (x < left || x > right || y < top || y > bottom)) return false;
      }
      return x > 0 && y > 0 && x < innerWidth && y < innerHeight;
    };
    return [...document.querySelectorAll("main button, main input, main select, main summary")]
      .filter((found) => found.checkVisibility() && !found.closest("[data-own], .out-of-sight"))
      .filter((found) => {
        const { left, top, width, height } = found.getBoundingClientRect();
        const [x, y] = [left + width / 2, top + height / 2];
        if (width === 0 || !inSight(found, x, y)) return false;
        const on = document.elementFromPoint(x, y);
        return on !== null && !found.contains(on) && !on.contains(found);
      })
      .map((found) => `${found.tagName} ${found.getAttribute("aria-label") ?? found.textContent}`);
  });
}

/** What reaches farthest to the right. */
async function beyondRight(page: Page): Promise<string> {
  return page.evaluate(() =>
    [...document.querySelectorAll("main *")]
      .map((one) => ({ one, right: one.getBoundingClientRect().right }))
      .toSorted((a, b) => b.right - a.right)
      .slice(0, 3)
      .map(({ one }) => one.outerHTML.slice(0, 120))
      .join(" ... "),
  );
}
