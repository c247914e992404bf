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
  const swapped = northFirst || "EW".includes(b.side || "-");
  const [lon, lat] = swapped ? [signed(b), signed(a)] : [signed(a), signed(b)];
  return Math.abs(lat) <= 90 && Math.abs(lon) <= 360 ? [lon, lat] : null;
}

const PART =
  /([-−]?)(\d+(?:\.\d+)?)(?:\s*°\s*(?:(\d+(?:\.\d+)?)\s*[′'])?\s*(?:(\d+(?:\.\d+)?)\s*[″"])?)?\s*([NSEWnsew]?)/g;

/** A length at the end of what somebody typed, and before it the point that it goes round. */
const AROUND = /^(.*?)[\s,;]+(\d+(?:[.,]\d+)?)\s*([a-zA-Z]+)\s*$/;

/**
 * Write the ground searched as it is kept, from a point and a length typed in any usual way.
 *
 * A box or an outline stands as it is, for the server to judge; null where a point with a
 * length is meant and the point cannot be read.
 */
export function writeGround(text: string): string | null {
  const typed = text.trim();
  if (typed.startsWith("{") || typed.split(",").length === 4) return typed;
  const [, point, length, unit] = AROUND.exec(typed) ?? [];
  if (!point || !length || !unit || "NSEW".includes(unit.toUpperCase())) return null;
  const at = readLonLat(point);
  if (!at) return null;
  return `${at[0]},${at[1]},${length.replace(",", ".")}${unit}`;
}
