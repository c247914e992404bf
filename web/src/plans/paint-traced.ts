/** @file Paint what was traced from plans: on the plate with its doubt as width, on the sheet. */
import type { Schemas } from "../api/client";
import type { Point } from "../plate/lines";
import { drawLines, INK } from "../plate/pen";
import type { Place } from "../plate/viewer";
import type { Coordinate } from "../sheet/gesture";

type Pen = CanvasRenderingContext2D;

/** Nine in ten lie within so many standard errors to either side. */
const NINE_IN_TEN = 1.645;
const LEAST_BAND_PX = 4;

export function paintOnPlate(
  pen: Pen,
  things: Schemas["OnPlateThing"][],
  place: Place,
  px_per_screen: number,
): void {
  for (const { what, pieces } of things) {
    for (const piece of pieces) {
      const line = piece.points_px.map((at) => place(at as Point));
      const band = Math.max((2 * NINE_IN_TEN * piece.sd_px) / px_per_screen, LEAST_BAND_PX);
      paintBand(pen, line, band, piece.seen);
      if (line.length > 1)
        drawLines(pen, [line], piece.seen ? "machine" : "hidden", piece.seen ? -0.5 : 0);
    }
    const longest = pieces.toSorted((a, b) => b.points_px.length - a.points_px.length)[0];
    const at = longest?.points_px[Math.floor((longest.points_px.length - 1) / 2)];
    if (at) nameAt(pen, what, place(at as Point));
  }
}

function paintBand(pen: Pen, line: Coordinate[], wide: number, seen: boolean): void {
  const [first] = line;
  if (!first) return;
  pen.save();
  pen.lineCap = "round";
  pen.lineJoin = "round";
  for (const [colour, alpha, more] of [
    [INK.paper, seen ? 0.3 : 0.15, 0],
    [INK.blue, seen ? 0.34 : 0.16, 0],
  ] as const) {
    pen.globalAlpha = alpha;
    pen.strokeStyle = colour;
    pen.fillStyle = colour;
    pen.beginPath();
    if (line.length === 1) {
      pen.arc(first[0], first[1], wide / 2, 0, 2 * Math.PI);
      pen.fill();
      continue;
    }
    pen.lineWidth = wide + more;
    for (const [i, [x, y]] of line.entries()) {
      if (i === 0) pen.moveTo(x, y);
      else pen.lineTo(x, y);
    }
    pen.stroke();
  }
  pen.restore();
}

/** Paint what was followed on the sheet itself. */
export function paintOnSheet(
  pen: Pen,
  shapes: { shape: string; points_px: Point[] }[],
  place: Place,
): void {
  for (const { shape, points_px } of shapes) {
    const line = points_px.map(place);
    const [first] = line;
    if (!first) continue;
    if (shape === "outline") line.push(first);
    if (shape === "point") ring(pen, first);
    else drawLines(pen, [line], "person", -0.5);
  }
}

function ring(pen: Pen, [x, y]: Coordinate): void {
  const points = Array.from({ length: 25 }, (_, i): Coordinate => [
    x + 5 * Math.cos((i * Math.PI) / 12),
    y + 5 * Math.sin((i * Math.PI) / 12),
  ]);
  drawLines(pen, [points], "person", -0.5);
}

function nameAt(pen: Pen, text: string, [x, y]: Coordinate): void {
  pen.save();
  pen.font = '13px "Page Sans", sans-serif';
  pen.lineJoin = "round";
  pen.setLineDash([]);
  pen.strokeStyle = INK.paper;
  pen.lineWidth = 4;
  pen.globalAlpha = 0.9;
  pen.strokeText(text, x + 6, y - 8);
  pen.globalAlpha = 1;
  pen.fillStyle = INK.blue;
  pen.fillText(text, x + 6, y - 8);
  pen.restore();
}
