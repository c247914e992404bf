/** @file Count plates by the years in which they may have been exposed. */

const MOST_YEARS = 220;

/** A plate that may fall in several years counts in each by its share. */
export function yearsOf(
  from: readonly (number | null)[],
  to: readonly (number | null)[],
): { year: number; plates: number }[] {
  const counts = new Map<number, number>();
  for (const [i, first] of from.entries()) {
    const last = to[i];
    if (first === null || last === null || last === undefined || last < first) continue;
    const span = Math.floor(last) - Math.floor(first) + 1;
    if (span > MOST_YEARS) continue;
    for (let year = Math.floor(first); year <= last; year++)
      counts.set(year, (counts.get(year) ?? 0) + 1 / span);
  }
  if (counts.size === 0) return [];
  const years = [...counts.keys()];
  const [least, most] = [Math.min(...years), Math.max(...years)];
  return Array.from({ length: Math.min(MOST_YEARS, most - least + 1) }, (_, i) => ({
    year: least + i,
    plates: counts.get(least + i) ?? 0,
  }));
}
