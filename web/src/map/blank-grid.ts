/** @file A blank grid of longitude and latitude, before there is any map. */

/** What the grid shows: its middle, and how much of latitude from top to bottom [deg]. */
export interface GridView {
  lon_deg: number;
  lat_deg: number;
  high_deg: number;
}
export interface Circle {
  lon_deg: number;
  lat_deg: number;
  radius_m: number;
}
type Spot = [x: number, y: number];

export const WORLD: GridView = { lon_deg: 0, lat_deg: 0, high_deg: 180 };
/** A degree of latitude on a sphere of the earth's mean radius, 6371.0 km [m]. */
const DEGREE_M = 111_195;
const LEAST_HIGH_DEG = 0.02;
const STEPS_DEG = [45, 30, 15, 10, 5, 2, 1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002];
const MOST_LINES = 8;

/** How much narrower a degree of longitude is at the view's middle. */
function narrowing({ lat_deg }: { lat_deg: number }): number {
  return Math.max(0.05, Math.cos((lat_deg * Math.PI) / 180));
}

export function onGrid(at: [number, number], view: GridView, [wide, high]: Spot): Spot {
  const px_per_deg = high / view.high_deg;
  return [
    wide / 2 + (at[0] - view.lon_deg) * narrowing(view) * px_per_deg,
    high / 2 - (at[1] - view.lat_deg) * px_per_deg,
  ];
}

export function offGrid([x, y]: Spot, view: GridView, [wide, high]: Spot): [number, number] {
  const deg_per_px = view.high_deg / high;
  const lat = view.lat_deg - (y - high / 2) * deg_per_px;
  const lon = view.lon_deg + ((x - wide / 2) * deg_per_px) / narrowing(view);
  return [((((lon + 180) % 360) + 360) % 360) - 180, Math.min(89.9, Math.max(-89.9, lat))];
}

/** Come nearer or go farther; what is under the pointer stays there. */
export function zoomed(view: GridView, times: number, at: Spot, size: Spot): GridView {
  const high_deg = Math.min(180, Math.max(LEAST_HIGH_DEG, view.high_deg / times));
  const [lon, lat] = offGrid(at, view, size);
  const next = { ...view, high_deg };
  const [lon2, lat2] = offGrid(at, next, size);
  return { high_deg, lon_deg: view.lon_deg + lon - lon2, lat_deg: view.lat_deg + lat - lat2 };
}

/** The circle from where a drag began to where it is. */
export function circleOf(from: Spot, to: Spot, view: GridView, size: Spot): Circle {
  const [lon_deg, lat_deg] = offGrid(from, view, size);
  const px = Math.hypot(to[0] - from[0], to[1] - from[1]);
  return { lon_deg, lat_deg, radius_m: (px * view.high_deg * DEGREE_M) / size[1] };
}

export function radiusPx({ radius_m }: Circle, view: GridView, [, high]: Spot): number {
  return (radius_m / DEGREE_M) * (high / view.high_deg);
}

/** See all of a circle, with as much around it. */
export function viewOf({ lon_deg, lat_deg, radius_m }: Circle): GridView {
  return { lon_deg, lat_deg, high_deg: Math.max(LEAST_HIGH_DEG, (4 * radius_m) / DEGREE_M) };
}

/** Lines of the grid along one direction, at whole steps [deg]. */
export function gridLines(from_deg: number, to_deg: number): number[] {
  const step = STEPS_DEG.findLast((one) => (to_deg - from_deg) / one <= MOST_LINES) ?? 45;
  const lines = [];
  for (let i = Math.ceil(from_deg / step); i * step <= to_deg; i++)
    lines.push(Number((i * step).toFixed(6)));
  return lines;
}

/** A circle in the words that the ground searched is kept in. */
export function circleSaid({ lon_deg, lat_deg, radius_m }: Circle): string {
  return `${lon_deg.toFixed(5)},${lat_deg.toFixed(5)},${Math.round(radius_m)}m`;
}

/** Read such words; null where they are no circle. */
export function circleIn(text: string | null): Circle | null {
  const parts = /^\s*([-+.\d]+)\s*,\s*([-+.\d]+)\s*,\s*([.\d]+)\s*(k?m)\s*$/.exec(text ?? "");
  if (!parts) return null;
  const [lon_deg = 0, lat_deg = 0, length = 0] = parts.slice(1, 4).map(Number);
  return { lon_deg, lat_deg, radius_m: length * (parts[4] === "km" ? 1000 : 1) };
}
