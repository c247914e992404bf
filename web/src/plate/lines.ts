/** @file Mending a traced line: pieces with gaps between, one sample a pixel column. */

export type Point = [x_px: number, y_px: number];

/** A piece of a line without a gap; x rises. */
export interface Run {
  x_px: number[];
  y_px: number[];
  sd_px?: number[] | null;
}

/** Pieces nearer than this along x are one piece [px]. */
const JOINED_WITHIN_PX = 2.5;
/** How surely a hand draws, until it says otherwise [px]. */
export const HAND_SD_PX = 2;

interface Sample {
  x: number;
  y: number;
  sd: number;
}

function samplesOf(runs: Run[]): Sample[][] {
  return runs.map((run) =>
    run.x_px.map((x, i) => ({ x, y: run.y_px[i] ?? 0, sd: run.sd_px?.[i] ?? HAND_SD_PX })),
  );
}

function runsOf(pieces: Sample[][]): Run[] {
  return pieces
    .filter((piece) => piece.length > 1)
    .map((piece) => ({
      x_px: piece.map(({ x }) => x),
      y_px: piece.map(({ y }) => y),
      sd_px: piece.map(({ sd }) => sd),
    }));
}

/** Keep only samples that pass, and open a gap wherever some in between did not. */
function keep(runs: Run[], passes: (sample: Sample) => boolean): Sample[][] {
  const pieces: Sample[][] = [];
  for (const samples of samplesOf(runs)) {
    let piece: Sample[] = [];
    for (const sample of samples) {
      if (passes(sample)) piece.push(sample);
      else {
        pieces.push(piece);
        piece = [];
      }
    }
    pieces.push(piece);
  }
  return pieces.filter((piece) => piece.length > 0);
}

/** Rub out all within a radius of the points of a stroke. */
export function erase(runs: Run[], stroke: Point[], radius_px: number): Run[] {
  const near = ({ x, y }: Sample): boolean =>
    stroke.some(([px, py]) => Math.hypot(px - x, py - y) <= radius_px);
  return runsOf(keep(runs, (sample) => !near(sample)));
}

/** Open a gap between two columns. */
export function openGap(runs: Run[], from_px: number, to_px: number): Run[] {
  const [left, right] = from_px < to_px ? [from_px, to_px] : [to_px, from_px];
  return runsOf(keep(runs, ({ x }) => x < left || x > right));
}

/** Sample a stroke at every column's centre; where it turns back, the later part holds. */
export function columnsOf(stroke: Point[]): Point[] {
  const at = new Map<number, number>();
  for (let i = 1; i < stroke.length; i++) {
    const [x0, y0] = stroke[i - 1] as Point;
    const [x1, y1] = stroke[i] as Point;
    const [left, right] = x0 < x1 ? [x0, x1] : [x1, x0];
    for (let x = Math.ceil(left - 0.5) + 0.5; x <= right; x++) {
      at.set(x, x1 === x0 ? y1 : y0 + ((y1 - y0) * (x - x0)) / (x1 - x0));
    }
  }
  return [...at].sort(([a], [b]) => a - b);
}

/** Lay a drawn stroke over the line: it replaces what was between its ends. */
export function draw(runs: Run[], stroke: Point[], sd_px: number | number[] = HAND_SD_PX): Run[] {
  const columns = columnsOf(stroke);
  const sd = (i: number): number => (typeof sd_px === "number" ? sd_px : (sd_px[i] ?? HAND_SD_PX));
  return layOver(
    runs,
    columns.map(([x, y], i) => ({ x, y, sd: sd(i) })),
  );
}

/** Lay samples, one a column, over the line. */
export function replace(runs: Run[], piece: Run): Run[] {
  const samples = samplesOf([piece])[0] ?? [];
  return layOver(runs, samples);
}

function layOver(runs: Run[], samples: Sample[]): Run[] {
  const first = samples[0];
  const last = samples.at(-1);
  if (!first || !last || samples.length < 2) return runs;
  const kept = keep(runs, ({ x }) => x < first.x || x > last.x);
  const pieces = [...kept, samples].sort((a, b) => (a[0]?.x ?? 0) - (b[0]?.x ?? 0));
  const joined: Sample[][] = [];
  for (const piece of pieces) {
    const before = joined.at(-1);
    const touches =
      before !== undefined &&
      (piece === samples || before.at(-1) === last) &&
      (piece[0]?.x ?? 0) - (before.at(-1)?.x ?? 0) <= JOINED_WITHIN_PX;
    if (touches) before.push(...piece);
    else joined.push([...piece]);
  }
  return runsOf(joined);
}

/** Share of a picture's width that has a line. */
export function shareTraced(runs: Run[], width_px: number): number {
  const traced = runs.reduce((sum, { x_px }) => sum + ((x_px.at(-1) ?? 0) - (x_px[0] ?? 0)), 0);
  return Math.min(1, traced / width_px);
}

/** Thin a run for drawing: no point further than a tolerance off the thinned line. */
export function thinned(points: Point[], tolerance_px: number): Point[] {
  if (points.length < 3) return points;
  const kept = new Uint8Array(points.length);
  kept[0] = kept[points.length - 1] = 1;
  const spans: [number, number][] = [[0, points.length - 1]];
  for (let span = spans.pop(); span; span = spans.pop()) {
    const [a, b] = span;
    const [xa, ya] = points[a] as Point;
    const [xb, yb] = points[b] as Point;
    const length = Math.hypot(xb - xa, yb - ya) || 1;
    let worst = 0;
    let at = -1;
    for (let i = a + 1; i < b; i++) {
      const [x, y] = points[i] as Point;
      const off = Math.abs((xb - xa) * (ya - y) - (xa - x) * (yb - ya)) / length;
      if (off > worst) [worst, at] = [off, i];
    }
    if (worst > tolerance_px) {
      kept[at] = 1;
      spans.push([a, at], [at, b]);
    }
  }
  return points.filter((_, i) => kept[i]);
}
