/** @file Paint the horizon strip, as an ink-wash sketch of hills. */
import type { Schemas } from "../api/client";
import type { inks } from "../look/look.svelte";
import { farness, horizonAt, marksFor, SCALE_PX, xOf, yOf, type StripShape } from "./strip";

type Pen = CanvasRenderingContext2D;
type Inks = ReturnType<typeof inks>;
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
  if (horizon) paintHills(pen, shape, horizon, ink);
  paintTraced(pen, shape, runs, turned_deg, ink);
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

function paintHills(pen: Pen, shape: StripShape, horizon: Schemas["HorizonTold"], ink: Inks): void {
  const known = horizon.distance_m.filter((m) => m !== null);
  const [nearest, farthest] = [Math.min(...known), Math.max(...known)];
  const bottom = shape.high_px - SCALE_PX;
  const step = 2;
  const line: [number, number][] = [];
  const wash = washOf(ink.graphite);
  for (let x = 0; x <= shape.wide_px; x += step) {
    const bearing = shape.middle_deg + (x / shape.wide_px - 0.5) * shape.shown_deg;
    const there = horizonAt(horizon, bearing);
    if (!there) continue;
    const y = yOf(there.deg, shape);
    line.push([x, y]);
    pen.globalAlpha = NEAR_SHARE - FAR_LESS * farness(there.m, nearest, farthest);
    pen.drawImage(wash, 0, 0, 1, WASH_PX, x, y, step, bottom - y);
  }
  pen.globalAlpha = 1;
  pen.strokeStyle = ink.blue;
  pen.lineWidth = 1.75;
  pen.setLineDash([6, 4]);
  strokeLine(pen, line, 3 * step);
  pen.setLineDash([]);
}

function paintTraced(
  pen: Pen,
  shape: StripShape,
  runs: Traced[],
  turned_deg: number,
  ink: Inks,
): void {
  for (const [colour, width] of [
    [ink.paper, 4.5],
    [ink.madder, 2],
  ] as const) {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    for (const { bearing_deg, elevation_deg } of runs) {
      const line = bearing_deg.map((deg, i): [number, number] => [
        xOf(deg + turned_deg, shape),
        yOf(elevation_deg[i] ?? 0, shape),
      ]);
      strokeLine(pen, line, shape.wide_px / 4);
    }
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
