/** @file Lay a maker's plates out on a small map, north up. */

export interface Laid {
  at: [number, number][];
  /** A round length, and how long it is drawn. */
  scale_km: number;
  scale_px: number;
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
  if (!first) return { at: [], scale_km: 1, scale_px: 0 };
  const squeeze = Math.cos((first.lat_deg * Math.PI) / 180);
  const km = places.map(({ lon_deg, lat_deg }): [number, number] => {
    const east = ((lon_deg - first.lon_deg + 540) % 360) - 180;
    return [east * KM_A_DEGREE * squeeze, (lat_deg - first.lat_deg) * KM_A_DEGREE];
  });
  const [east, north] = [km.map(([e]) => e), km.map(([, n]) => n)];
  const [w, e] = [Math.min(...east), Math.max(...east)];
  const [s, n] = [Math.min(...north), Math.max(...north)];
  const px = Math.min(
    (wide - 2 * EDGE) / Math.max(e - w, 0.5),
    (high - 2 * EDGE) / Math.max(n - s, 0.5),
  );
  const at = km.map(([x, y]): [number, number] => [
    wide / 2 + (x - (w + e) / 2) * px,
    high / 2 - (y - (s + n) / 2) * px,
  ]);
  const scale_km =
    [500, 200, 100, 50, 20, 10, 5, 2, 1, 0.5, 0.2, 0.1].find(
      (length) => length * px <= LONGEST_SCALE_PX,
    ) ?? 0.1;
  return { at, scale_km, scale_px: scale_km * px };
}
