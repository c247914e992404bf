/** @file Paint the horizon strip, as an ink-wash sketch of hills. */
import type { Schemas } from "../api/client";
import type { inks } from "../look/look.svelte";
import { farness, horizonAt, marksFor, SCALE_PX, xOf, yOf, type StripShape } from "./strip";

type Pen = CanvasRenderingContext2D;
type Inks = ReturnType<typeof inks>;
/** Something with a name that stands on the horizon. */
export interface Hill {
  name: string;
  bearing_deg: number;
}
interface Traced {
  bearing_deg: number[];
  elevation_deg: number[];
}

/** How strong the wash is on the nearest hill, and how much less on the farthest. */
const NEAR_SHARE = 0.62;
const FAR_LESS = 0.5;
/** How strong it is at the foot of a hill, of what it is on its top. */
const FOOT_SHARE = 0.18;
const WASH_PX = 64;
/** Columns of the wash are so wide [px]. */
const STEP_PX = 2;
/** How far the tone goes toward that of the next column, of two pixels. */
const SOFT_SHARE = 0.22;

let washed: { colour: string; canvas: HTMLCanvasElement } | null = null;

/** Return a column of wash to be drawn at any height: a gradient for each would be slow. */
function washOf(colour: string): HTMLCanvasElement {
  if (washed?.colour === colour) return washed.canvas;
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [1, WASH_PX];
  const pen = canvas.getContext("2d");
  if (pen) {
    const wash = pen.createLinearGradient(0, 0, 0, WASH_PX);
    wash.addColorStop(0, colour);
    wash.addColorStop(1, `color-mix(in srgb, ${colour} ${100 * FOOT_SHARE}%, transparent)`);
    pen.fillStyle = wash;
    pen.fillRect(0, 0, 1, WASH_PX);
  }
  washed = { colour, canvas };
  return canvas;
}

export function paintStrip(
  canvas: HTMLCanvasElement,
  shape: StripShape,
  horizon: Schemas["HorizonTold"] | null,
  runs: Traced[],
  turned_deg: number,
  ink: Inks,
  named: Record<number, string>,
  hills: Hill[],
  byMachine: boolean,
): void {
  const ratio = devicePixelRatio;
  const [w, h] = [Math.round(shape.wide_px * ratio), Math.round(shape.high_px * ratio)];
  if (canvas.width !== w || canvas.height !== h) [canvas.width, canvas.height] = [w, h];
  const pen = canvas.getContext("2d");
  if (!pen) return;
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, shape.wide_px, shape.high_px);
  pen.save();
  pen.beginPath();
  pen.rect(0, 0, shape.wide_px, shape.high_px - SCALE_PX);
  pen.clip();
  paintLevel(pen, shape, ink);
  const computed = horizon ? paintHills(pen, shape, horizon, ink) : [];
  paintTraced(pen, shape, runs, turned_deg, ink, byMachine);
  paintComputed(pen, computed, ink);
  if (horizon) paintNames(pen, shape, horizon, hills, ink);
  paintElevations(pen, shape, ink);
  pen.restore();
  paintBearings(pen, shape, ink, named);
}

function paintLevel(pen: Pen, shape: StripShape, ink: Inks): void {
  const y = yOf(0, shape);
  pen.strokeStyle = ink.rule;
  pen.lineWidth = 1;
  pen.beginPath();
  pen.moveTo(0, y);
  pen.lineTo(shape.wide_px, y);
  pen.stroke();
}

function paintHills(
  pen: Pen,
  shape: StripShape,
  horizon: Schemas["HorizonTold"],
  ink: Inks,
): [number, number][] {
  const known = horizon.distance_m.filter((m) => m !== null);
  const [nearest, farthest] = [Math.min(...known), Math.max(...known)];
  const bottom = shape.high_px - SCALE_PX;
  const step = STEP_PX;
  const line: [number, number][] = [];
  const wash = washOf(ink.graphite);
  let tone: number | null = null;
  for (let x = 0; x <= shape.wide_px; x += step) {
    const bearing = shape.middle_deg + (x / shape.wide_px - 0.5) * shape.shown_deg;
    const there = horizonAt(horizon, bearing);
    if (!there) continue;
    const y = yOf(there.deg, shape);
    line.push([x, y]);
    // One hill gives way to the next over some pixels: an edge of tone is no edge of ground.
    const far = farness(there.m, nearest, farthest);
    tone = tone === null ? far : tone + (far - tone) * SOFT_SHARE;
    pen.globalAlpha = NEAR_SHARE - FAR_LESS * tone;
    pen.drawImage(wash, 0, 0, 1, WASH_PX, x, y, step, bottom - y);
  }
  pen.globalAlpha = 1;
  return line;
}

/** The computed horizon lies upon the traced line, so that both are seen. */
function paintComputed(pen: Pen, line: [number, number][], ink: Inks): void {
  pen.strokeStyle = ink.blue;
  pen.lineWidth = 1.75;
  pen.setLineDash([6, 4]);
  strokeLine(pen, line, 3 * STEP_PX);
  pen.setLineDash([]);
}

function paintTraced(
  pen: Pen,
  shape: StripShape,
  runs: Traced[],
  turned_deg: number,
  ink: Inks,
  byMachine: boolean,
): void {
  for (const [colour, width] of [
    [ink.paper, 4.5],
    [byMachine ? ink.blue : ink.madder, byMachine ? 1.75 : 2],
  ] as const) {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.setLineDash(byMachine && colour !== ink.paper ? [2, 2] : []);
    for (const { bearing_deg, elevation_deg } of runs) {
      const line = bearing_deg.map((deg, i): [number, number] => [
        xOf(deg + turned_deg, shape),
        yOf(elevation_deg[i] ?? 0, shape),
      ]);
      strokeLine(pen, line, shape.wide_px / 4);
    }
  }
}

/** Names on the horizon, each above its hill, none over another. */
function paintNames(
  pen: Pen,
  shape: StripShape,
  horizon: Schemas["HorizonTold"],
  hills: Hill[],
  ink: Inks,
): void {
  pen.setLineDash([]);
  pen.font = '12px "Page Sans", sans-serif';
  pen.textAlign = "center";
  pen.textBaseline = "bottom";
  let taken = -Infinity;
  const spots = hills
    .map(({ name, bearing_deg }) => ({
      name,
      x: xOf(bearing_deg, shape),
      there: horizonAt(horizon, bearing_deg),
    }))
    .filter(({ x, there }) => there && x > 0 && x < shape.wide_px)
    .toSorted((a, b) => a.x - b.x);
  for (const { name, x, there } of spots) {
    const half = pen.measureText(name).width / 2;
    if (!there || x - half < taken) continue;
    taken = x + half + 8;
    const y = Math.max(16, yOf(there.deg, shape) - 12);
    pen.strokeStyle = ink.pencil;
    pen.lineWidth = 1;
    pen.beginPath();
    pen.moveTo(x, y + 1);
    pen.lineTo(x, yOf(there.deg, shape));
    pen.stroke();
    pen.strokeStyle = ink.paper;
    pen.lineWidth = 3;
    pen.strokeText(name, x, y);
    pen.fillStyle = ink.graphite;
    pen.fillText(name, x, y);
  }
}

/** The scale of elevation at the left, a few round degrees. */
function paintElevations(pen: Pen, shape: StripShape, ink: Inks): void {
  const span = shape.most_deg - shape.least_deg;
  const every = [0.5, 1, 2, 5, 10, 20].find((step) => span / step <= 6) ?? 30;
  pen.setLineDash([]);
  pen.font = '11px "Page Sans", sans-serif';
  pen.textAlign = "left";
  pen.textBaseline = "middle";
  pen.lineWidth = 3;
  pen.strokeStyle = ink.paper;
  pen.fillStyle = ink.graphite;
  for (let deg = Math.ceil(shape.least_deg / every) * every; deg < shape.most_deg; deg += every) {
    const y = yOf(deg, shape);
    if (y < 8 || y > shape.high_px - SCALE_PX - 6) continue;
    const text = `${Number(deg.toFixed(1))}°`;
    pen.strokeText(text, 10, y);
    pen.fillText(text, 10, y);
    pen.fillRect(0, Math.round(y), 6, 1);
  }
}

/** Stroke a line, lifting the pen where it jumps. */
function strokeLine(pen: Pen, line: [number, number][], jump: number): void {
  pen.beginPath();
  let before: number | null = null;
  for (const [x, y] of line) {
    if (before === null || Math.abs(x - before) > jump) pen.moveTo(x, y);
    else pen.lineTo(x, y);
    before = x;
  }
  pen.stroke();
}

function paintBearings(
  pen: Pen,
  shape: StripShape,
  ink: Inks,
  named: Record<number, string>,
): void {
  const top = shape.high_px - SCALE_PX;
  pen.strokeStyle = ink.pencil;
  pen.fillStyle = ink.graphite;
  pen.lineWidth = 1;
  pen.font = '13px "Page Sans", sans-serif';
  pen.textAlign = "center";
  pen.textBaseline = "top";
  pen.beginPath();
  pen.moveTo(0, top + 0.5);
  pen.lineTo(shape.wide_px, top + 0.5);
  for (const { deg, named: quarter } of marksFor(shape)) {
    const x = Math.round(xOf(deg, shape)) + 0.5;
    pen.moveTo(x, top);
    pen.lineTo(x, top + (quarter ? 7 : 4));
    pen.fillText(named[deg] ?? `${deg}°`, x, top + 5);
  }
  pen.stroke();
}
