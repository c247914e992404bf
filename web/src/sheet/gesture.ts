/** @file What pointer and keys mean on a sheet, whichever of the two is used. */

export type Coordinate = [number, number];

/** A tool in use. Points are given one at a time, strokes from press to release. */
export interface Gesture {
  kind: "points" | "stroke";
  /** A point was set, by click or by Enter at the crosshair. */
  point?: (at: Coordinate) => void;
  /** A stroke's points so far; `done` when it was let go. */
  stroke?: (points: Coordinate[], done: boolean) => void;
  /** The line is complete: double click, or Enter twice at one place. */
  finish?: () => void;
}

/** How far an arrow key moves the crosshair: plain, with Shift, with Alt [screen px]. */
export const NUDGES_PX = { plain: 1, shift: 10, alt: 0.1 } as const;

const ARROWS: Record<string, Coordinate> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};

/** Return the step that an arrow key asks for, y down, or null for another key. */
export function nudgeOf(
  event: Pick<KeyboardEvent, "key" | "shiftKey" | "altKey">,
): Coordinate | null {
  const way = ARROWS[event.key];
  if (!way) return null;
  const step = event.altKey ? NUDGES_PX.alt : event.shiftKey ? NUDGES_PX.shift : NUDGES_PX.plain;
  return [way[0] * step, way[1] * step];
}

/** A pointer that strayed less than this between press and release has clicked [px]. */
const CLICK_WITHIN_PX = 4;

export function isClick(from: Coordinate, to: Coordinate): boolean {
  return Math.hypot(to[0] - from[0], to[1] - from[1]) < CLICK_WITHIN_PX;
}
