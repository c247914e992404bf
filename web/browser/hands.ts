/** @file The hands that go through the page: with a mouse, and with the keyboard alone. */
import assert from "node:assert/strict";

import type { FileChooser, Locator, Page } from "playwright-core";

import type { Spot } from "./way.ts";

export interface Hands {
  /** Press a button, a link or a heading that opens. */
  press(what: Locator): Promise<void>;
  /** Choose a file where the page asks for one. */
  choose(where: Locator, file: string): Promise<void>;
  /** Set a point on the plate or the map, at a spot of the window. */
  point(sheet: Locator, at: Spot): Promise<void>;
  /** Draw from one spot to another. */
  stroke(sheet: Locator, from: Spot, to: Spot): Promise<void>;
}

const ASKED_MS = 10_000;
const MOST_TRIES = 20;

/** Write into a field, and let it save. */
export async function write(field: Locator, text: string): Promise<void> {
  await field.fill(text);
  await field.press("Enter");
}

/** Have a press ask for files. On a slow machine it may come too late to count as one. */
async function chooser(page: Page, press: () => Promise<void>): Promise<FileChooser> {
  for (let tries = 0; tries < MOST_TRIES; tries++) {
    const asked = page.waitForEvent("filechooser", { timeout: ASKED_MS }).catch(() => null);
    await press();
    const found = await asked;
    if (found) return found;
  }
  throw new Error("The page asked for no file.");
}

export function mouse(page: Page): Hands {
  return {
    press: (what) => what.click(),
    async choose(where, file) {
      const label = where.locator("xpath=..");
      await (await chooser(page, () => label.click())).setFiles(file);
    },
    point: (_, at) => page.mouse.click(...at),
    async stroke(_, from, to) {
      await page.mouse.move(...from);
      await page.mouse.down();
      await page.mouse.move(...to, { steps: 4 });
      await page.mouse.up();
    },
  };
}

export function keyboard(page: Page): Hands {
  const keys = page.keyboard;

  /** Give something the focus as Tab would: only where Tab comes by. */
  async function reach(what: Locator): Promise<void> {
    await what.waitFor({ state: "attached" });
    // A press by the mouse waits for this too.
    await (await what.elementHandle())?.waitForElementState("enabled");
    const index = await what.evaluate((found) => (found as HTMLElement).tabIndex);
    assert.ok(index >= 0, `Tab does not come by ${String(what)}`);
    await what.focus();
    const has = await what.evaluate((found) => found === document.activeElement);
    assert.ok(has, `${String(what)} does not take the focus`);
  }

  /** Press an arrow key as often as a distance takes, ten pixels at a time first. */
  async function arrows(px: number, back: string, on: string): Promise<void> {
    const steps = Math.round(Math.abs(px));
    const key = px < 0 ? back : on;
    for (let i = 0; i < Math.floor(steps / 10); i++) await keys.press(`Shift+${key}`);
    for (let i = 0; i < steps % 10; i++) await keys.press(key);
  }

  async function move(from: Spot, to: Spot): Promise<void> {
    await arrows(to[0] - from[0], "ArrowLeft", "ArrowRight");
    await arrows(to[1] - from[1], "ArrowUp", "ArrowDown");
  }

  /** Put the crosshair out in the middle, use it, and take it in again. */
  async function crosshair(sheet: Locator, use: (middle: Spot) => Promise<void>): Promise<void> {
    await reach(sheet);
    const box = await sheet.boundingBox();
    assert.ok(box);
    await keys.press("x");
    await use([box.x + box.width / 2, box.y + box.height / 2]);
    await sheet.focus();
    await keys.press("x");
  }

  return {
    async press(what) {
      await reach(what);
      await keys.press("Enter");
    },
    async choose(where, file) {
      await reach(where);
      await (await chooser(page, () => keys.press("Enter"))).setFiles(file);
    },
    point: (sheet, at) =>
      crosshair(sheet, async (middle) => {
        await move(middle, at);
        await keys.press("Enter");
      }),
    stroke: (sheet, from, to) =>
      crosshair(sheet, async (middle) => {
        await move(middle, from);
        await keys.press("Enter");
        await move(from, to);
        await keys.press("Enter");
      }),
  };
}
