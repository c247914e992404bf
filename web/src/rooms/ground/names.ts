/** @file Which names are shown, and by which numbers: from left to right on the plate. */
import type { Schemas } from "../../api/client";

type Name = Schemas["NamedInView"];

export interface Numbered {
  name: Name;
  number: number;
}

export function shownNames(names: Name[], withHidden: boolean): Numbered[] {
  return names
    .filter(({ seen }) => seen || withHidden)
    .toSorted((a, b) => a.x_px - b.x_px)
    .map((name, i) => ({ name, number: i + 1 }));
}

/** Points of the curve that shows how far the trace lies above the computed line. */
export function differenceCurve(
  x_px: readonly number[],
  up_px: readonly (number | null)[],
  wide: number,
  high: number,
): { path: string; most_px: number } {
  const known = up_px.filter((up) => up !== null).map(Math.abs);
  const most_px = Math.max(1, ...known);
  const last = Math.max(1, ...x_px);
  let pen = "M";
  const parts: string[] = [];
  for (const [i, up] of up_px.entries()) {
    if (up === null) {
      pen = "M";
      continue;
    }
    const x = ((x_px[i] ?? 0) / last) * wide;
    const y = high / 2 - (up / most_px) * (high / 2 - 2);
    parts.push(`${pen}${x.toFixed(1)} ${y.toFixed(1)}`);
    pen = "L";
  }
  return { path: parts.join(""), most_px };
}
