/** @file All that Looking paints on a plate, in the order in which it lies. */
import { pointsOf } from "../things/item-words";
import type { Point, Run } from "./lines";
import { drawLines } from "./pen";
import { paintArrow, paintDot, paintPlumbBob, paintPoints, paintRuns, paintWaves } from "./paint";
import type { EvidenceItem, Mark, Ridge } from "./plate.svelte";
import type { Place } from "./viewer";

export interface Painted {
  lines: Run[];
  linesBy: "traced" | "person";
  ridges: Ridge[];
  evidence: EvidenceItem[];
  chosen: string | null;
  marks: Mark[];
  draft: Point[];
  snapped: Run | null;
  /** The draft is a stroke in the drawing, without dots. */
  stroke: boolean;
  eraser_px: number | null;
  at: Point | null;
  computed: Run[];
}

type Pen = CanvasRenderingContext2D;

export function paintAll(pen: Pen, place: Place, px_per_screen: number, what: Painted): void {
  paintRuns(pen, what.computed, place, px_per_screen, "machine");
  for (const { evidence_id, by_machine, runs } of what.ridges) {
    const way = by_machine ? "traced" : "person";
    paintRuns(pen, runs, place, px_per_screen, evidence_id === what.chosen ? "plain" : way, -0.7);
  }
  paintRuns(pen, what.lines, place, px_per_screen, what.linesBy);
  for (const item of what.evidence) paintItem(pen, place, item, what);
  if (what.snapped) paintRuns(pen, [what.snapped], place, px_per_screen, "machine");
  if (what.stroke) {
    if (what.draft.length > 1) drawLines(pen, [what.draft.map(place)], "person");
  } else paintPoints(pen, what.draft, place, "person");
  if (what.eraser_px && what.at) ringOf(pen, place(what.at), what.eraser_px);
}

function paintItem(pen: Pen, place: Place, item: EvidenceItem, what: Painted): void {
  const way = item.id === what.chosen ? "plain" : "person";
  const points = pointsOf(item);
  switch (item.kind) {
    case "plumb_edge": {
      drawLines(pen, [points.map(place)], way);
      const foot = points.toSorted((a, b) => b[1] - a[1])[0];
      if (foot) paintPlumbBob(pen, place(foot), way);
      break;
    }
    case "water_level":
    case "sea_horizon": {
      drawLines(pen, [points.map(place)], way);
      const middle = points[Math.floor(points.length / 2)];
      if (middle) paintWaves(pen, place(middle), way);
      break;
    }
    case "known_size":
    case "blur":
      paintPoints(pen, points, place, way);
      break;
    case "shadow": {
      // From the foot along the ground to the tip, and up to the top that throws it.
      const [foot, tip, top] = points.map(place);
      if (!foot || !tip) break;
      paintArrow(pen, foot, tip, way);
      if (top) drawLines(pen, [[foot, top]], way, -0.7);
      break;
    }
    case "shadow_edge": {
      const [foot, top, shadow] = points.map(place);
      if (foot && top && shadow) drawLines(pen, [[foot, top, shadow]], way, -0.3);
      break;
    }
    case "in_line":
    case "order": {
      const [a, b] = [markAt(what.marks, item, "a"), markAt(what.marks, item, "b")];
      if (!a || !b) break;
      if (item.kind === "in_line") drawLines(pen, [[place(a), place(b)]], way, 0.5);
      else paintArrow(pen, place(a), place(b), way);
      break;
    }
  }
}

export function markAt(marks: Mark[], item: EvidenceItem, end: "a" | "b"): Point | undefined {
  const key = (item.content as Record<string, unknown> | null)?.[end];
  return marks.find((mark) => mark.key === key)?.points_px?.[0] as Point | undefined;
}

function ringOf(pen: Pen, [x, y]: [number, number], radius: number): void {
  const ring = Array.from({ length: 41 }, (_, i): [number, number] => [
    x + radius * Math.cos((i * Math.PI) / 20),
    y + radius * Math.sin((i * Math.PI) / 20),
  ]);
  drawLines(pen, [ring], "plain", -0.5);
  paintDot(pen, [x, y], "plain");
}
