/** @file The error to expect anywhere on a sheet, between places at which it was asked for. */
import type { Point } from "../plate/lines";

export interface ErrorGrid {
  columns: number;
  rows: number;
  width_px: number;
  height_px: number;
  /** Row by row from the top; null where the sheet lies beyond its own horizon [m]. */
  within90_m: (number | null)[];
}

const COLUMNS = 9;
const ROWS = 7;

/** The places of a sheet at which its error is asked for, row by row. */
export function gridPoints(width_px: number, height_px: number): Point[] {
  return Array.from({ length: COLUMNS * ROWS }, (_, i): Point => [
    ((i % COLUMNS) / (COLUMNS - 1)) * width_px,
    (Math.floor(i / COLUMNS) / (ROWS - 1)) * height_px,
  ]);
}

export function errorGrid(
  width_px: number,
  height_px: number,
  within90_m: (number | null)[],
): ErrorGrid {
  return { columns: COLUMNS, rows: ROWS, width_px, height_px, within90_m };
}

/** The error to expect at a place, from the four about it; null off the sheet. */
export function errorAt(grid: ErrorGrid, [x, y]: Point): number | null {
  const across = (x / grid.width_px) * (grid.columns - 1);
  const down = (y / grid.height_px) * (grid.rows - 1);
  if (across < 0 || down < 0 || across > grid.columns - 1 || down > grid.rows - 1) return null;
  const column = Math.min(Math.floor(across), grid.columns - 2);
  const row = Math.min(Math.floor(down), grid.rows - 2);
  const [u, v] = [across - column, down - row];
  let sum = 0;
  for (const [i, j, share] of [
    [0, 0, (1 - u) * (1 - v)],
    [1, 0, u * (1 - v)],
    [0, 1, (1 - u) * v],
    [1, 1, u * v],
  ] as const) {
    const value = grid.within90_m[(row + j) * grid.columns + column + i];
    if (value === null || value === undefined) return null;
    sum += share * value;
  }
  return sum;
}
