/** @file Read two coordinates as people write them. */

/** Read "7.1, 46.2", "46.2 N 7.1 E" or degrees with minutes; null where it is neither. */
export function readLonLat(text: string): [lon_deg: number, lat_deg: number] | null {
  const parts = [...text.matchAll(PART)].map(([, sign, d, m, s, side]) => ({
    deg:
      (sign === "-" || sign === "−" ? -1 : 1) *
      (Number(d) + Number(m ?? 0) / 60 + Number(s ?? 0) / 3600),
    side: side?.toUpperCase() ?? "",
  }));
  const [a, b] = parts;
  if (!a || !b || parts.length !== 2) return null;
  const signed = ({ deg, side }: { deg: number; side: string }): number =>
    side === "S" || side === "W" ? -deg : deg;
  const northFirst = "NS".includes(a.side) && a.side !== "";
  const [lon, lat] = northFirst ? [signed(b), signed(a)] : [signed(a), signed(b)];
  return Math.abs(lat) <= 90 && Math.abs(lon) <= 360 ? [lon, lat] : null;
}

const PART =
  /([-−]?)(\d+(?:\.\d+)?)(?:\s*°\s*(?:(\d+(?:\.\d+)?)\s*[′'])?\s*(?:(\d+(?:\.\d+)?)\s*[″"])?)?\s*([NSEWnsew]?)/g;
