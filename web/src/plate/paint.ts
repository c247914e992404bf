/** @file Paint what people and machine drew on a plate. */
import type { Coordinate } from "../sheet/gesture";
import { thinned, type Point, type Run } from "./lines";
import { drawLines, drawStretches, drawTicks, INK, type Way } from "./pen";
import type { Place } from "./viewer";

type Pen = CanvasRenderingContext2D;

/** A drawn line is off the true one by no more than this [screen px]. */
const OFF_PX = 0.35;
const thin = new WeakMap<Run, Map<number, Point[]>>();

/** Thin a run for some zoom, once. */
function pointsAt(run: Run, px_per_screen: number): Point[] {
  const level = Math.round(Math.log2(px_per_screen) * 2);
  let levels = thin.get(run);
  if (!levels) thin.set(run, (levels = new Map()));
  let points = levels.get(level);
  if (!points) {
    const all = run.x_px.map((x, i): Point => [x, run.y_px[i] ?? 0]);
    levels.set(level, (points = thinned(all, OFF_PX * 2 ** (level / 2))));
  }
  return points;
}

/** Paint a line with gaps, its ends ticked. */
export function paintRuns(
  pen: Pen,
  runs: Run[],
  place: Place,
  px_per_screen: number,
  way: Way,
  wider = 0,
): void {
  const lines = runs.map((run) => pointsAt(run, px_per_screen).map(place));
  drawLines(pen, lines, way, wider);
  if (way !== "person" && way !== "traced") return;
  const ends = lines.flatMap((line) => [line[0], line.at(-1)]).filter((end) => end !== undefined);
  drawTicks(pen, ends, way);
}

/** Upright strokes between two lines stand so far apart, and no nearer [screen px]. */
const HATCH_PX = 4;
const LEAST_APART_PX = 3;

/** Hatch what lies between a traced line and the computed one, in the colour of doubt. */
export function paintBetween(pen: Pen, traced: Run[], computed: Run[], place: Place): void {
  pen.save();
  pen.strokeStyle = INK.straw;
  pen.lineWidth = 1.5;
  pen.setLineDash([]);
  pen.beginPath();
  let last = -Infinity;
  for (const run of traced)
    for (const [i, x_px] of run.x_px.entries()) {
      const there = heightAt(computed, x_px);
      if (there === null) continue;
      const [x, y] = place([x_px, run.y_px[i] ?? 0]);
      const [, other] = place([x_px, there]);
      if (Math.abs(x - last) < HATCH_PX || Math.abs(y - other) < LEAST_APART_PX) continue;
      last = x;
      pen.moveTo(x, y);
      pen.lineTo(x, other);
    }
  pen.stroke();
  pen.restore();
}

/** Where a line is at an x, between its points; null where it has none. */
export function heightAt(runs: Run[], x_px: number): number | null {
  for (const { x_px: xs, y_px: ys } of runs) {
    const [first, last] = [xs[0], xs.at(-1)];
    if (first === undefined || last === undefined || x_px < first || x_px > last) continue;
    let [low, high] = [0, xs.length - 1];
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if ((xs[middle] ?? 0) <= x_px) low = middle;
      else high = middle;
    }
    const [x0 = 0, x1 = 0, y0 = 0, y1 = 0] = [xs[low], xs[high], ys[low], ys[high]];
    return x1 > x0 ? y0 + ((y1 - y0) * (x_px - x0)) / (x1 - x0) : y0;
  }
  return null;
}

export function paintPoints(pen: Pen, points: Point[], place: Place, way: Way): void {
  if (points.length > 1) drawLines(pen, [points.map(place)], way);
  for (const point of points) paintDot(pen, place(point), way);
}

/** Paint a point as a ring that leaves the pixel free. */
export function paintDot(pen: Pen, [x, y]: Coordinate, way: Way): void {
  const ring: Coordinate[] = Array.from({ length: 17 }, (_, i) => [
    x + 4 * Math.cos((i * Math.PI) / 8),
    y + 4 * Math.sin((i * Math.PI) / 8),
  ]);
  drawLines(pen, [ring], way, -0.5);
}

/** Paint things seen on two plates, each with the number it has on both. */
export function paintNumbered(
  pen: Pen,
  things: readonly { at: Point; number: number; way: Way }[],
  place: Place,
): void {
  for (const { at, number, way } of things) {
    const [x, y] = place(at);
    paintDot(pen, [x, y], way);
    pen.font = '700 13px "Page Sans", sans-serif';
    pen.lineJoin = "round";
    pen.lineWidth = 3;
    pen.strokeStyle = INK.paper;
    pen.fillStyle = way === "person" ? INK.madder : INK.blue;
    pen.strokeText(String(number), x + 7, y - 5);
    pen.fillText(String(number), x + 7, y - 5);
  }
}

export function paintStretches(
  pen: Pen,
  stretches: readonly (readonly [number, number, number, number])[],
  place: Place,
  way: Way,
): void {
  drawStretches(
    pen,
    stretches.map(([x0, y0, x1, y1]) => [place([x0, y0]), place([x1, y1])]),
    way,
  );
}

/** Paint a plumb bob hanging from a point. */
export function paintPlumbBob(pen: Pen, [x, y]: Coordinate, way: Way): void {
  drawLines(
    pen,
    [
      [
        [x, y],
        [x, y + 6],
        [x - 4, y + 10],
        [x, y + 18],
        [x + 4, y + 10],
        [x, y + 6],
      ],
    ],
    way,
    -0.5,
  );
}

/** Paint two waves below a point. */
export function paintWaves(pen: Pen, [x, y]: Coordinate, way: Way): void {
  const wave = (down: number): Coordinate[] =>
    Array.from({ length: 25 }, (_, i) => [x - 12 + i, y + down + 2 * Math.sin(i / 2)]);
  drawLines(pen, [wave(7), wave(13)], way, -0.5);
}

/** Paint an arrow from one point to another, clear of both. */
export function paintArrow(pen: Pen, from: Coordinate, to: Coordinate, way: Way): void {
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  if (length < 30) return;
  const [ux, uy] = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
  const at = (along: number, off = 0): Coordinate => [
    from[0] + ux * along - uy * off,
    from[1] + uy * along + ux * off,
  ];
  const tip = length - 10;
  drawLines(
    pen,
    [
      [at(10), at(tip)],
      [at(tip - 8, 5), at(tip), at(tip - 8, -5)],
    ],
    way,
    -0.5,
  );
}
