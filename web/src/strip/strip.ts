/** @file The horizon strip: bearing along, elevation up, distance by tone. */
import type { Schemas } from "../api/client";

export interface StripShape {
  wide_px: number;
  high_px: number;
  /** Bearing in the middle of the strip, and how much it shows [deg]. */
  middle_deg: number;
  shown_deg: number;
  least_deg: number;
  most_deg: number;
}

/** Room for the scale of bearings below the sketch [px]. */
export const SCALE_PX = 20;

/** Bring an angle within half a turn of zero [deg]. */
export function aboutZero(deg: number): number {
  return ((((deg + 180) % 360) + 360) % 360) - 180;
}

export function xOf(bearing_deg: number, shape: StripShape): number {
  return shape.wide_px * (0.5 + aboutZero(bearing_deg - shape.middle_deg) / shape.shown_deg);
}

export function yOf(elevation_deg: number, shape: StripShape): number {
  const high = shape.high_px - SCALE_PX;
  return high * (1 - (elevation_deg - shape.least_deg) / (shape.most_deg - shape.least_deg));
}

type Horizon = Pick<
  Schemas["HorizonTold"],
  "from_deg" | "step_deg" | "elevation_deg" | "distance_m"
>;

/** The horizon at a bearing, between its samples; null where it is not known. */
export function horizonAt(
  horizon: Horizon,
  bearing_deg: number,
): { deg: number; m: number } | null {
  const { from_deg, step_deg, elevation_deg, distance_m } = horizon;
  const count = elevation_deg.length;
  const at = ((((bearing_deg - from_deg) % 360) + 360) % 360) / step_deg;
  const i = Math.floor(at);
  const j = count * step_deg > 359.9 ? (i + 1) % count : i + 1;
  const [a, b] = [elevation_deg[i], elevation_deg[j]];
  if (a === null || a === undefined || b === null || b === undefined) return null;
  return { deg: a + (b - a) * (at - i), m: distance_m[i] ?? distance_m[j] ?? NaN };
}

/** How far a hill's tone goes from near (0) to far (1). */
export function farness(distance_m: number, nearest_m: number, farthest_m: number): number {
  if (!(farthest_m > nearest_m)) return 0;
  const share = Math.log(distance_m / nearest_m) / Math.log(farthest_m / nearest_m);
  return Math.min(1, Math.max(0, share));
}

/** Choose elevations so that trace and horizon fit, with air above [deg]. */
export function elevationsFor(found: number[]): [number, number] {
  const known = found.filter(Number.isFinite);
  if (known.length === 0) return [-2, 10];
  const least = Math.min(...known);
  const most = Math.max(...known);
  const air = Math.max(1, 0.2 * (most - least));
  return [least - 1.5 * air, most + air];
}

/** Bearings to mark, every five degrees or so that words do not meet. */
export function marksFor(shape: StripShape): { deg: number; named: boolean }[] {
  const every = shape.shown_deg / shape.wide_px > 0.12 ? 15 : 5;
  const first = Math.ceil((shape.middle_deg - shape.shown_deg / 2) / every) * every;
  const marks = [];
  for (let deg = first; deg <= shape.middle_deg + shape.shown_deg / 2; deg += every) {
    const turned = ((deg % 360) + 360) % 360;
    marks.push({ deg: turned, named: turned % 90 === 0 });
  }
  return marks;
}

/** Root mean square of trace over horizon at one bearing of the camera [deg]. */
export function apartBy(
  horizon: Horizon,
  runs: { bearing_deg: number[]; elevation_deg: number[] }[],
  turned_deg: number,
): number | null {
  let sum = 0;
  let count = 0;
  for (const { bearing_deg, elevation_deg } of runs) {
    for (const [i, bearing] of bearing_deg.entries()) {
      const there = horizonAt(horizon, bearing + turned_deg);
      const seen = elevation_deg[i];
      if (!there || seen === undefined) continue;
      sum += (seen - there.deg) ** 2;
      count++;
    }
  }
  return count > 0 ? Math.sqrt(sum / count) : null;
}
