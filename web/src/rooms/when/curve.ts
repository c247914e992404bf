/** @file What of a date's probability is drawn: the months that hold anything to speak of. */

export interface Curve {
  /** First month drawn and the one after the last, twelve to the year. */
  from: number;
  to: number;
  /** The greatest share of a month. */
  most: number;
  steps: { month: number; share: number }[];
  /** Years to write below. */
  years: number[];
}

/** Months below this share of the greatest are not drawn at the ends. */
const LEAST = 0.002;
/** About so many years are written at most. */
const MOST_YEARS = 8;

/** Lay out the probability of months; null where none has any. */
export function curveOf(firstMonth: string, byMonth: number[]): Curve | null {
  const most = Math.max(0, ...byMonth);
  if (!most) return null;
  const first = monthOf(firstMonth);
  const shown = byMonth.map((share) => share >= LEAST * most);
  const begin = shown.indexOf(true);
  const end = shown.lastIndexOf(true) + 1;
  const room = Math.max(6, Math.round((end - begin) / 12));
  const from = first + begin - room;
  const to = first + end + room;
  const steps = byMonth.slice(begin, end).map((share, i) => ({ month: first + begin + i, share }));
  return { from, to, most, steps, years: yearsBetween(from, to) };
}

/** Read the first month of a run and the one after its last, twelve to the year. */
export function monthsOf(edtf: string): { from: number; to: number } {
  const [first = "", last = first] = edtf.split("/");
  return { from: monthOf(first), to: monthOf(last) + 1 };
}

/** Choose the years to write below a line from one month to another. */
export function yearsBetween(from: number, to: number): number[] {
  const span = (to - from) / 12;
  const every = [1, 2, 5, 10, 20, 50].find((step) => span / step <= MOST_YEARS) ?? 50;
  const years: number[] = [];
  for (let year = Math.ceil(from / 12 / every) * every; year * 12 <= to; year += every) {
    years.push(year);
  }
  return years;
}

function monthOf(written: string): number {
  return 12 * Number(written.slice(0, 4)) + Number(written.slice(5, 7)) - 1;
}
