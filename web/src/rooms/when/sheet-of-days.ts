/** @file Lay the year's days by the day's hours out on a drawing. */

export type Lines = readonly (readonly (readonly [number, number])[])[];

export const DAYS = 365;
/** First days of the months in a common year. */
export const MONTH_DAYS = [1, 32, 60, 91, 121, 152, 182, 213, 244, 274, 305, 335];
const HOUR = 60;
const LEAST_HOURS = 8;

/** Choose the hours that are drawn: those with daylight, whole, an hour more at either end. */
export function hoursOf(lines: Lines): [number, number] {
  const minutes = lines.flatMap((line) => line.map(([, minute]) => minute));
  if (minutes.length === 0) return [0, 24];
  const first = Math.max(0, Math.floor(Math.min(...minutes) / HOUR) - 1);
  const last = Math.min(24, Math.ceil(Math.max(...minutes) / HOUR) + 1);
  return last - first < LEAST_HOURS ? [0, 24] : [first, last];
}

/** Write lines as a path; days run right, hours up the day run down the sheet. */
export function pathOf(
  lines: Lines,
  x: (day: number) => number,
  y: (minute: number) => number,
): string {
  return lines
    .filter((line) => line.length > 1)
    .map((line) =>
      line
        .map(([day, minute], i) => `${i ? "L" : "M"}${x(day).toFixed(1)} ${y(minute).toFixed(1)}`)
        .join(""),
    )
    .join("");
}
