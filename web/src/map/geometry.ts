/** @file Shapes of the map: GeoJSON taken apart, circles, distances, nice numbers. */

export type LonLat = [lon_deg: number, lat_deg: number];

interface Geometry {
  type: string;
  coordinates?: unknown;
  geometries?: Geometry[];
}

/** Take the lines of a GeoJSON geometry apart; null where there is nothing to draw. */
export function ringsOf(geometry: unknown): { rings: LonLat[][]; closed: boolean } | null {
  if (typeof geometry !== "object" || geometry === null || !("type" in geometry)) return null;
  const { type, coordinates: c, geometries } = geometry as Geometry;
  const plain = (ring: unknown): LonLat[] =>
    (ring as number[][]).map(([lon = 0, lat = 0]): LonLat => [lon, lat]);
  switch (type) {
    case "Point":
      return { rings: [plain([c])], closed: false };
    case "MultiPoint":
    case "LineString":
      return { rings: [plain(c)], closed: false };
    case "MultiLineString":
      return { rings: (c as unknown[]).map(plain), closed: false };
    case "Polygon":
      return { rings: (c as unknown[]).map(plain), closed: true };
    case "MultiPolygon":
      return { rings: (c as unknown[][]).flat().map(plain), closed: true };
    case "GeometryCollection": {
      const parts = (geometries ?? []).map(ringsOf).filter((part) => part !== null);
      const first = parts[0];
      return first ? { rings: parts.flatMap(({ rings }) => rings), closed: first.closed } : null;
    }
    default:
      return null;
  }
}

/** Draw points as GeoJSON: one alone is a point, two a line, more are ground or a way along. */
export function shapeOf(places: LonLat[], along: boolean): Record<string, unknown> {
  const rounded = places.map(([lon, lat]) => [Number(lon.toFixed(6)), Number(lat.toFixed(6))]);
  const [first] = rounded;
  if (rounded.length === 1) return { type: "Point", coordinates: first };
  if (along || rounded.length === 2) return { type: "LineString", coordinates: rounded };
  return { type: "Polygon", coordinates: [[...rounded, first]] };
}

/** Add a point to a line; a second click of a double click adds none. */
export function withPoint(line: [number, number][], at: [number, number]): [number, number][] {
  const last = line.at(-1);
  return last && apart(last, at) < SAME_PLACE_M ? line : [...line, at];
}
const SAME_PLACE_M = 0.01;

/** Turn a bearing into a direction on the grid: east, north. */
export function along(bearing_deg: number, turn_deg: number): [number, number] {
  const grid = ((bearing_deg - turn_deg) * Math.PI) / 180;
  return [Math.sin(grid), Math.cos(grid)];
}

/** The bearing from one place to another, clockwise from grid north, 0 to 360 [deg]. */
export function gridBearing(from: [number, number], to: [number, number]): number {
  const deg = (Math.atan2(to[0] - from[0], to[1] - from[1]) * 180) / Math.PI;
  return (deg + 360) % 360;
}

export function apart([e0, n0]: [number, number], [e1, n1]: [number, number]): number {
  return Math.hypot(e1 - e0, n1 - n0);
}

/** The greatest of 1, 2 or 5 times a power of ten up to a number. */
export function roundBelow(number: number): number {
  const power = 10 ** Math.floor(Math.log10(number));
  const step = [5, 2, 1].find((s) => s * power <= number * (1 + 1e-9)) ?? 1;
  return step * power;
}

/** How far apart contours should lie so that some forty fit a map [m]. */
export function contourInterval(metres_per_px: number): number {
  return Math.max(5, roundBelow(Math.max(5, metres_per_px * 4)) * 1);
}

/** Corners of a circle, enough to look round. */
export function circle(at: [number, number], radius: number, corners = 64): [number, number][] {
  return Array.from({ length: corners }, (_, i) => {
    const angle = (2 * Math.PI * i) / corners;
    return [at[0] + radius * Math.sin(angle), at[1] + radius * Math.cos(angle)];
  });
}

/**
 * Dots for cells of probability: as many as a cell's share earns, always the same ones, so
 * that a map redrawn does not flicker.
 */
export function dotsOf(
  cells: readonly (readonly [number, number, number, number])[],
  dots: number,
): [number, number][] {
  const total = cells.reduce((sum, [, , , share]) => sum + share, 0);
  if (total <= 0) return [];
  const laid: [number, number][] = [];
  let owed = 0;
  // A low-discrepancy sequence fills a cell evenly with any number of dots.
  const [a, b] = [0.7548776662466927, 0.5698402909980532];
  for (const [i, [east, north, side, share]] of cells.entries()) {
    owed += (share / total) * dots;
    for (let k = 0; owed >= 1; k++, owed--) {
      const u = (0.5 + a * (i * 7 + k)) % 1;
      const v = (0.5 + b * (i * 13 + k)) % 1;
      laid.push([east + (u - 0.5) * side, north + (v - 0.5) * side]);
    }
  }
  return laid;
}
