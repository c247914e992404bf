/** @file How lines are drawn on a plate: a person's madder and solid, the machine's blue and
 * dashed (short where it traced, long where it computed), what is doubted straw and thin; each on a casing of paper, since the photograph
 * beneath has every tone. These do not change with the page's: the photograph does not. */
import type { Coordinate } from "../sheet/gesture";

export const INK = {
  paper: "#f7f4ee",
  graphite: "#2a2926",
  madder: "#a23b2a",
  blue: "#1f4e79",
  straw: "#e3be5a",
} as const;

export type Way = "person" | "machine" | "hidden" | "traced" | "doubted" | "plain";

interface Stroke {
  colour: string;
  width: number;
  casing: number;
  dash: number[];
}

const WAYS: Record<Way, Stroke> = {
  person: { colour: INK.madder, width: 2, casing: 4.5, dash: [] },
  machine: { colour: INK.blue, width: 2, casing: 4.5, dash: [7, 5] },
  // What ground hides: thinner, in short dashes far apart.
  hidden: { colour: INK.blue, width: 1.25, casing: 3, dash: [3, 5] },
  // Read off the photograph by the machine: its colour, in short dashes and thinner than what
  // it computed, which then lies upon it.
  traced: { colour: INK.blue, width: 1.75, casing: 4.5, dash: [2, 2] },
  doubted: { colour: INK.straw, width: 1.5, casing: 3, dash: [2, 3] },
  plain: { colour: INK.graphite, width: 1.5, casing: 3.5, dash: [] },
};

type Pen = CanvasRenderingContext2D;

function path(pen: Pen, pixels: Coordinate[]): void {
  pen.beginPath();
  for (const [i, [x, y]] of pixels.entries()) {
    if (i === 0) pen.moveTo(x, y);
    else pen.lineTo(x, y);
  }
}

/** Draw lines, all casings below all strokes. */
export function drawLines(pen: Pen, lines: Coordinate[][], way: Way, wider = 0): void {
  const { colour, width, casing, dash } = WAYS[way];
  pen.lineJoin = "round";
  pen.lineCap = "butt";
  pen.setLineDash([]);
  pen.strokeStyle = INK.paper;
  pen.globalAlpha = 0.85;
  pen.lineWidth = casing + wider;
  for (const line of lines) {
    path(pen, line);
    pen.stroke();
  }
  pen.globalAlpha = 1;
  pen.strokeStyle = colour;
  pen.lineWidth = width + wider;
  pen.setLineDash(dash);
  for (const line of lines) {
    path(pen, line);
    pen.stroke();
  }
  pen.setLineDash([]);
}

/** Half the length of the tick that ends a line at a gap [px]. */
const TICK_PX = 6;

/** Tick the ends of a line that stops at a gap. */
export function drawTicks(pen: Pen, ends: Coordinate[], way: Way): void {
  drawLines(
    pen,
    ends.map(([x, y]) => [
      [x, y - TICK_PX],
      [x, y + TICK_PX],
    ]),
    way,
  );
}

/** Draw short stretches, each by its two ends. */
export function drawStretches(pen: Pen, stretches: [Coordinate, Coordinate][], way: Way): void {
  const { colour, width } = WAYS[way];
  pen.setLineDash([]);
  for (const [stroke, wide, alpha] of [
    [INK.paper, width + 1.5, 0.6],
    [colour, width - 0.7, 0.85],
  ] as const) {
    pen.globalAlpha = alpha;
    pen.strokeStyle = stroke;
    pen.lineWidth = wide;
    pen.beginPath();
    for (const [[x0, y0], [x1, y1]] of stretches) {
      pen.moveTo(x0, y0);
      pen.lineTo(x1, y1);
    }
    pen.stroke();
  }
  pen.globalAlpha = 1;
}
