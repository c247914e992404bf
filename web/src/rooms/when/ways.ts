/** @file Lay a maker's plates out on a small map, north up. */

export interface Laid {
  at: [number, number][];
  /** A round length, and how long it is drawn. */
  scale_km: number;
  scale_px: number;
  /** What the box shows, as the places were given: west, south, east, north [km]. */
  box_km: [w: number, s: number, e: number, n: number];
  /** Where something else lies in it, given alike. */
  to: (east_km: number, north_km: number) => [number, number];
}

const KM_A_DEGREE = 111.32;
const EDGE = 28;
const LONGEST_SCALE_PX = 120;

/** Lay places out in a box, in their true shape; longitudes may run over the date line. */
export function layOut(
  places: { lon_deg: number; lat_deg: number }[],
  wide: number,
  high: number,
): Laid {
  const first = places[0];
  const squeeze = Math.cos(((first?.lat_deg ?? 0) * Math.PI) / 180);
  const km = places.map(({ lon_deg, lat_deg }): [number, number] => {
    const east = ((lon_deg - (first?.lon_deg ?? 0) + 540) % 360) - 180;
    return [east * KM_A_DEGREE * squeeze, (lat_deg - (first?.lat_deg ?? 0)) * KM_A_DEGREE];
  });
  return layOutKm(km, wide, high);
}

/** Lay places out that are given in kilometres east and north, as on a map's grid. */
export function layOutKm(km: [number, number][], wide: number, high: number): Laid {
  if (!km.length)
    return { at: [], scale_km: 1, scale_px: 0, box_km: [0, 0, 0, 0], to: () => [0, 0] };
  const [east, north] = [km.map(([e]) => e), km.map(([, n]) => n)];
  const [w, e] = [Math.min(...east), Math.max(...east)];
  const [s, n] = [Math.min(...north), Math.max(...north)];
  const px = Math.min(
    (wide - 2 * EDGE) / Math.max(e - w, 0.5),
    (high - 2 * EDGE) / Math.max(n - s, 0.5),
  );
  const [x, y] = [(w + e) / 2, (s + n) / 2];
  const to = (east: number, north: number): [number, number] => [
    wide / 2 + (east - x) * px,
    high / 2 - (north - y) * px,
  ];
  const at = km.map(([east, north]) => to(east, north));
  const [dx, dy] = [wide / 2 / px, high / 2 / px];
  const scale_km =
    [500, 200, 100, 50, 20, 10, 5, 2, 1, 0.5, 0.2, 0.1].find(
      (length) => length * px <= LONGEST_SCALE_PX,
    ) ?? 0.1;
  return {
    at,
    scale_km,
    scale_px: scale_km * px,
    box_km: [x - dx, y - dy, x + dx, y + dy],
    to,
  };
}
