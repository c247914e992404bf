/** @file What every way through the page needs. */
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

import type { Browser, BrowserContext, Locator, Page, Request } from "playwright-core";

import type { Hands } from "./hands.ts";

/** A spot of the window [px]. */
export type Spot = [x: number, y: number];

export interface Way {
  browser: Browser;
  context: BrowserContext;
  page: Page;
  address: string;
  /** Where the page may come from; whatever is asked of another host fails the way. */
  home: Set<string>;
  /** What the test handed over: files, places. */
  given: Record<string, string | undefined>;
}
export type Flow = (way: Way) => Promise<void>;

export function needed(way: Way, name: string): string {
  const value = way.given[name];
  assert.ok(value, `${name}=… was not handed over`);
  return value;
}

/** Open a room of a plate. */
export async function enter(
  page: Page,
  room: string,
  plateId: string | null = null,
): Promise<void> {
  await page.evaluate(
    ([to, id]) => {
      location.hash = id ? `#/${to}/${id}` : `#/${to}`;
    },
    [room, plateId] as const,
  );
}

/** Go to a room as people do, by its thumb cut. */
export async function goTo(page: Page, hands: Hands, room: string): Promise<void> {
  const cut = page
    .getByRole("navigation", { name: "Rooms" })
    .getByRole("link", { name: room, exact: true });
  await hands.press(cut);
  await page.locator("nav a[aria-current=page]").filter({ hasText: room }).waitFor();
}

/** A part of a drawer, by its heading: pressed, it opens or folds. */
export function part(page: Page, title: string): Locator {
  return page.locator("summary").filter({ has: page.getByRole("heading", { name: title }) });
}

export function plateIdOf(page: Page): string {
  const id = new URL(page.url()).hash.split("/")[2];
  assert.ok(id, "no plate is open");
  return id;
}

export function thePlate(page: Page): Locator {
  return page.getByRole("application", { name: /^Plate/ });
}

/** Wait until the plate has its picture. */
export async function plateShown(page: Page): Promise<void> {
  await thePlate(page).locator(".ol-layer canvas, canvas.scan, .scan canvas").first().waitFor();
}

/** How long nothing may be fetched for a page to be at rest [ms]. */
const REST_MS = 400;
const asked = new WeakMap<Page, { open: Set<Request>; last: number }>();

/** Follow what a page asks for, so that `settled` knows; its stream of events never ends. */
export function follow(page: Page): void {
  const state = { open: new Set<Request>(), last: Date.now() };
  asked.set(page, state);
  page.on("request", (request) => {
    if (!request.url().endsWith("/api/events")) state.open.add(request);
  });
  const over = (request: Request): void => {
    state.open.delete(request);
    state.last = Date.now();
  };
  page.on("requestfinished", over);
  page.on("requestfailed", over);
}

/** Wait until nothing is being fetched any more, and two frames have gone by. */
export async function settled(page: Page): Promise<void> {
  const state = asked.get(page);
  assert.ok(state, "the page is not followed");
  do
    await page.evaluate(
      () => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))),
    );
  while (state.open.size > 0 || Date.now() - state.last < REST_MS);
}

/** Click the plate at a share of its picture, which is shown whole. */
export async function clickPlate(page: Page, across: number, down: number): Promise<void> {
  const [x, y] = await onPlate(page, across, down);
  await page.mouse.click(x, y);
}

/** The invented plate's size [px]. */
export const SIZE = { width: 640, height: 480 };

/** Where a share of the picture lies on the screen, the picture being shown whole. */
export async function onPlate(
  page: Page,
  across: number,
  down: number,
  { width, height } = SIZE,
): Promise<Spot> {
  const box = await thePlate(page).boundingBox();
  assert.ok(box);
  const padding = 12;
  const scale = Math.min((box.width - 2 * padding) / width, (box.height - 2 * padding) / height);
  return [
    box.x + box.width / 2 + (across - 0.5) * width * scale,
    box.y + box.height / 2 + (down - 0.5) * height * scale,
  ];
}

/** The size of the open plate's scan [px]. */
export async function sizeOf(page: Page): Promise<{ width: number; height: number }> {
  const look = await page.evaluate(
    async (id) => (await (await fetch(`/api/plates/${id}`)).json()).look,
    plateIdOf(page),
  );
  return { width: look.width_px, height: look.height_px };
}

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** Fail if axe finds anything amiss in what is shown. */
export async function accessible(page: Page, view: string): Promise<void> {
  await page.evaluate(axe);
  const found = await page.evaluate(async () => {
    interface Violation {
      id: string;
      nodes: { target: unknown; failureSummary?: string }[];
    }
    const run = (
      globalThis as unknown as { axe: { run: () => Promise<{ violations: Violation[] }> } }
    ).axe.run;
    return (await run()).violations.map(
      ({ id, nodes }) => `${id}: ${nodes.map((n) => `${n.target} ${n.failureSummary}`).join("; ")}`,
    );
  });
  assert.deepEqual(found, [], `axe finds something in ${view}`);
}
