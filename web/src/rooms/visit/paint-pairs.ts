/** @file The sheet's pairs on the plate: where the answer says that they show. */
import { paintDot, paintPoints } from "../../plate/paint";
import { INK } from "../../plate/pen";
import type { Place } from "../../plate/viewer";
import type { Sheet } from "./sheet.svelte";

type Pair = Sheet["pairs"][number];

export function paintPairs(pen: CanvasRenderingContext2D, pairs: Pair[], place: Place): void {
  pairs.forEach(({ far_px, near_px }, number) => {
    paintPoints(pen, [far_px, near_px], place, "machine");
    paintDot(pen, place(near_px), "machine");
    const [x, y] = place(near_px);
    pen.save();
    pen.font = "700 13px system-ui, sans-serif";
    pen.lineWidth = 4;
    pen.strokeStyle = INK.paper;
    pen.fillStyle = INK.blue;
    pen.strokeText(`${number + 1}`, x + 8, y + 5);
    pen.fillText(`${number + 1}`, x + 8, y + 5);
    pen.restore();
  });
}
