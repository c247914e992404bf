/** @file Pixels of the scan and places of the sheet: y turned, and x where it is flipped. */
import type { Coordinate } from "../sheet/gesture";
import type { Point } from "./lines";

export interface Frame {
  width_px: number;
  height_px: number;
  flipped: boolean;
}

export function sheetFromScan([x, y]: Point, { width_px, flipped }: Frame): Coordinate {
  return [flipped ? width_px - x : x, -y];
}

export function scanFromSheet([x, y]: Coordinate, { width_px, flipped }: Frame): Point {
  return [flipped ? width_px - x : x, -y];
}

export function within([x, y]: Point, { width_px, height_px }: Frame): boolean {
  return x >= 0 && y >= 0 && x <= width_px && y <= height_px;
}

/** Letters in the order of a keyed plate: A to Z, then AA, AB. */
export function letterAt(index: number): string {
  const letter = String.fromCharCode(65 + (index % 26));
  return index < 26 ? letter : letterAt(Math.floor(index / 26) - 1) + letter;
}

/** How far a tag stands off its mark, along x and y [screen px]. */
export const TAG_OFF_PX: Point = [22, -26];

/** Lay tags so that none covers another: each is moved round its mark until it is free. */
export function laidTags(marks: Point[], side_px = 22): Point[] {
  const taken: Point[] = [];
  const [dx, dy] = TAG_OFF_PX;
  const tries: Point[] = [
    [dx, dy],
    [-dx, dy],
    [dx, -dy],
    [-dx, -dy],
    [0, 1.6 * dy],
    [2.2 * dx, dy],
    [-2.2 * dx, dy],
    [0, 2.6 * dy],
    [2.2 * dx, 2 * dy],
  ];
  for (const [x, y] of marks) {
    const free = tries
      .map(([tx, ty]): Point => [x + tx, y + ty])
      .find((spot) =>
        taken.every((o) => Math.max(Math.abs(o[0] - spot[0]), Math.abs(o[1] - spot[1])) >= side_px),
      );
    taken.push(free ?? [x + dx, y + dy]);
  }
  return taken;
}
