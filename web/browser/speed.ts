/** @file Measure the page in a real browser: `node speed.ts ADDRESS PLATE_ID [HORIZON_PLATE_ID]`.
 *
 * Without a plate it is the contact sheet that is measured.
 * Beside other work the clock tells of that work: so each figure comes by the clock, and the
 * longest task of the page's main thread by the processor's time too (`tdur` of Chromium's
 * trace). Prints one record in JSON.
 */
import assert from "node:assert/strict";

import { chromium, type CDPSession, type Page } from "playwright-core";

import { enter, follow, plateShown, settled, thePlate } from "./way.ts";

const [address = "", plateId = "", horizonPlateId = ""] = process.argv.slice(2);
/** A drag right across the plate and back, as fast as a hand. */
const DRAG_STEPS = 60;
const STRIP_STEPS = 40;
/** Turns of the wheel down the contact sheet, and how far each goes [px]. */
const SHEET_STEPS = 80;
const WHEEL_PX = 700;

/** When inputs came that wait to be shown, of those the ones asked for, and how long each took. */
interface Inputs {
  waiting: number[];
  asked: number[];
  took: number[];
  moving: boolean;
}

interface TraceEvent {
  name: string;
  ph: string;
  ts: number;
  dur?: number;
  tdur?: number;
  pid: number;
  tid: number;
  args?: { name?: string };
}

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu"],
});
try {
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 } });
  const page = await context.newPage();
  follow(page);
  await page.addInitScript(() => {
    const on = globalThis as unknown as Inputs;
    const ask = globalThis.fetch;
    globalThis.fetch = async (to, ...how) => {
      const horizon = String(to instanceof Request ? to.url : to).includes("/horizon?");
      const of = horizon ? (on.waiting?.splice(0) ?? []) : [];
      const answer = await ask(to, ...how);
      if (horizon) on.asked?.push(...of);
      return answer;
    };
  });
  await page.goto(address);
  await page.getByRole("navigation", { name: "Rooms" }).waitFor();
  if (plateId) {
    const first_view_ms = await opens(page);
    const pan = await pans(page);
    const strip = horizonPlateId ? await turns(page) : {};
    console.log(JSON.stringify({ first_view_ms, ...pan, ...strip }));
  } else console.log(JSON.stringify(await scrolls(page)));
} finally {
  await browser.close();
}

/** From asking for the plate to its picture lying over all its place. */
async function opens(page: Page): Promise<number> {
  const began = Date.now();
  await enter(page, "looking", plateId);
  await plateShown(page);
  await page.waitForFunction(
    () => {
      const canvas = document.querySelector<HTMLCanvasElement>("canvas.scan, .scan canvas");
      const pen = canvas?.getContext("2d");
      if (!canvas || !pen || canvas.width < 100) return false;
      const { width, height } = canvas;
      const side = Math.min(width, height) * 0.9;
      for (let i = 0; i < 5; i++)
        for (let j = 0; j < 5; j++) {
          const x = width / 2 + (i / 4 - 0.5) * side;
          const y = height / 2 + (j / 4 - 0.5) * side;
          if ((pen.getImageData(x, y, 1, 1).data[3] ?? 0) < 250) return false;
        }
      return true;
    },
    null,
    { polling: "raf" },
  );
  return Date.now() - began;
}

/** Show the contact sheet, and turn the wheel down it. */
async function scrolls(page: Page): Promise<Record<string, number>> {
  const began = Date.now();
  await enter(page, "plates");
  const card = page.locator("a[href*='#/looking/']").first();
  await card.waitFor();
  const sheet_first_cards_ms = Date.now() - began;
  await settled(page);
  const box = await card.boundingBox();
  assert.ok(box);
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  const session = await page.context().newCDPSession(page);
  const events = await traced(session, async () => {
    await framesBegin(page);
    for (let i = 0; i < SHEET_STEPS; i++) {
      await page.mouse.wheel(0, WHEEL_PX);
      await page.evaluate(() => new Promise(requestAnimationFrame));
    }
    await settled(page);
  });
  const frames_ms = await framesEnd(page);
  assert.equal(await card.isVisible(), true, "nothing stands where the wheel led");
  return { sheet_first_cards_ms, ...frameTimes("sheet", frames_ms, events) };
}

/** Drag the plate at a tenth of its full size and at one pixel to one. */
async function pans(page: Page): Promise<Record<string, number>> {
  const box = await thePlate(page).boundingBox();
  assert.ok(box);
  const middle = [box.x + box.width / 2, box.y + box.height / 2] as const;
  await page.mouse.move(...middle);
  await page.mouse.wheel(0, -600);
  await settled(page);
  const session = await page.context().newCDPSession(page);
  const events = await traced(session, async () => {
    await framesBegin(page);
    await page.mouse.down();
    for (let i = 0; i < DRAG_STEPS; i++) {
      const way = Math.sin((2 * Math.PI * i) / DRAG_STEPS);
      await page.mouse.move(middle[0] + way * 300, middle[1] + way * 200);
    }
    await page.mouse.up();
    await settled(page);
  });
  const frames_ms = await framesEnd(page);
  return frameTimes("pan", frames_ms, events);
}

/** Frames by the page's own clock, and the longest task of its main thread. */
function frameTimes(
  what: string,
  frames_ms: number[],
  events: TraceEvent[],
): Record<string, number> {
  const main = mainThread(events);
  const tasks = events.filter(
    ({ name, tid, pid }) => name === "RunTask" && main.has(`${pid}:${tid}`),
  );
  return {
    [`${what}_frames`]: frames_ms.length,
    [`${what}_frame_median_ms`]: quantile(frames_ms, 0.5),
    [`${what}_frame_longest_ms`]: Math.max(...frames_ms),
    [`${what}_task_longest_ms`]: Math.max(...tasks.map(({ dur = 0 }) => dur)) / 1000,
    [`${what}_task_longest_processor_ms`]: Math.max(...tasks.map(({ tdur = 0 }) => tdur)) / 1000,
  };
}

/** Turn the strip, then move the camera on the map: from input to the strip's painting. */
async function turns(page: Page): Promise<Record<string, number>> {
  await enter(page, "looking", horizonPlateId);
  await plateShown(page);
  const button = (name: string) => page.getByRole("button", { name, exact: true });
  await button("Map").click();
  await page.getByRole("application", { name: /^Map/ }).waitFor();
  await button("Horizon strip").click();
  const strip = page.getByRole("slider", { name: /^Bearing/ });
  await strip.and(page.locator("[data-known=yes]")).waitFor();
  await settled(page);
  // Each input waits for the painting that knows of it: of its bearing at once, of its place
  // once the horizon has come that was asked for after it.
  await page.evaluate(() => {
    const on = globalThis as unknown as Inputs;
    [on.waiting, on.asked, on.took, on.moving] = [[], [], [], false];
    const pen = document
      .querySelector<HTMLCanvasElement>("canvas[role=slider]")
      ?.getContext("2d") as CanvasRenderingContext2D;
    const clear = pen.clearRect.bind(pen);
    pen.clearRect = (...box) => {
      const shown = (on.moving ? on.asked : on.waiting).splice(0);
      requestAnimationFrame(() => on.took.push(...shown.map((from) => performance.now() - from)));
      clear(...box);
    };
    for (const name of ["keydown", "pointermove"])
      addEventListener(name, (event) => on.waiting.push(event.timeStamp), { capture: true });
  });
  const times = (): Promise<number[]> =>
    page.evaluate(() => (globalThis as unknown as Inputs).took.splice(0));
  const shown = (count: number): Promise<unknown> =>
    page.waitForFunction((n) => (globalThis as unknown as Inputs).took.length >= n, count);

  await strip.focus();
  for (let i = 0; i < STRIP_STEPS; i++) {
    await page.keyboard.press("ArrowRight");
    await shown(i + 1);
  }
  const turned = await times();

  // A horizon is asked for by the page's own fetch, which was noted before the page began.
  await page.evaluate(() => Object.assign(globalThis, { waiting: [], asked: [], moving: true }));
  const station = page.getByRole("button", { name: /^Camera position,/ });
  await station.focus();
  for (let i = 0; i < STRIP_STEPS; i++) {
    await page.keyboard.press(i % 2 ? "ArrowLeft" : "ArrowRight");
    await shown(i + 1);
  }
  const moved = await times();

  const box = await station.boundingBox();
  assert.ok(box);
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.evaluate(() => Object.assign(globalThis, { waiting: [], asked: [] }));
  await times();
  for (let i = 1; i <= DRAG_STEPS; i++) {
    await page.mouse.move(x + 40 * Math.sin((4 * Math.PI * i) / DRAG_STEPS), y - i / 2);
    await page.evaluate(() => new Promise(requestAnimationFrame));
  }
  await page.mouse.up();
  await settled(page);
  const dragged = await times();
  return {
    strip_turned_median_ms: quantile(turned, 0.5),
    strip_turned_95_of_100_ms: quantile(turned, 0.95),
    strip_moved_median_ms: quantile(moved, 0.5),
    strip_moved_95_of_100_ms: quantile(moved, 0.95),
    strip_dragged_moves: dragged.length,
    strip_dragged_median_ms: quantile(dragged, 0.5),
    strip_dragged_95_of_100_ms: quantile(dragged, 0.95),
  };
}

async function framesBegin(page: Page): Promise<void> {
  await page.evaluate(() => {
    const on = globalThis as unknown as { frames: number[]; counting: boolean };
    [on.frames, on.counting] = [[], true];
    const tick = (now: number): void => {
      on.frames.push(now);
      if (on.counting) requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
  });
}

async function framesEnd(page: Page): Promise<number[]> {
  const at = await page.evaluate(() => {
    const on = globalThis as unknown as { frames: number[]; counting: boolean };
    on.counting = false;
    return on.frames;
  });
  return at.slice(1).map((now, i) => now - (at[i] ?? now));
}

async function traced(session: CDPSession, act: () => Promise<void>): Promise<TraceEvent[]> {
  const events: TraceEvent[] = [];
  session.on("Tracing.dataCollected", ({ value }) =>
    events.push(...(value as unknown as TraceEvent[])),
  );
  const complete = new Promise((done) => session.once("Tracing.tracingComplete", done));
  await session.send("Tracing.start", {
    transferMode: "ReportEvents",
    traceConfig: {
      includedCategories: [
        "toplevel",
        "devtools.timeline",
        "disabled-by-default-devtools.timeline",
      ],
    },
  });
  await act();
  await session.send("Tracing.end");
  await complete;
  return events;
}

/** Threads that pages run on. */
function mainThread(events: TraceEvent[]): Set<string> {
  return new Set(
    events
      .filter(({ name, args }) => name === "thread_name" && args?.name === "CrRendererMain")
      .map(({ pid, tid }) => `${pid}:${tid}`),
  );
}

function quantile(values: number[], share: number): number {
  const sorted = values.toSorted((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? NaN;
}
