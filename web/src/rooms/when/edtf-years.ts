/** @file Years of a date as written (EDTF, ISO 8601-2), for a time line alone. */
import { saysOf, type Event } from "./events";

export interface Span {
  /** First moment and last, in years; null where it is open. */
  from: number | null;
  to: number | null;
  soft: boolean;
}

/** What a date means that is kept as written and counts nothing until somebody tells it. */
const UNTOLD = "1839/1955";

export function untold(edtf: string): boolean {
  return edtf === UNTOLD;
}

/** Read the span of one date, and of a bound of one side; null where it is not understood. */
export function boundsOf(edtf: string, of: Event | null): Span | null {
  const soft = /[~?%]/.test(edtf);
  const [first, last] = edtf.replace(/[~?%]/g, "").split("/");
  const start = yearsIn(first ?? "");
  const end = last === undefined ? start : yearsIn(last);
  if (!start || !end) return null;
  const says = saysOf(of);
  if (says === "nothing") return null;
  if (says === "not before") return { from: start.from, to: null, soft };
  if (says === "not after") return { from: null, to: end.to, soft };
  return { from: start.from, to: end.to, soft };
}

function yearsIn(text: string): { from: number | null; to: number | null } | null {
  const trimmed = text.trim();
  if (trimmed === "" || trimmed === "..") return { from: null, to: null };
  const found = /^(-?\d{2,4})(X{0,2})(?:-(\d{2}))?(?:-(\d{2}))?$/.exec(trimmed);
  if (!found) return null;
  const [, figures = "", unknown = "", month] = found;
  if (figures.replace("-", "").length + unknown.length !== 4) return null;
  const size = 10 ** unknown.length;
  const year = Number(figures) * size;
  const into = month && Number(month) <= 12 ? (Number(month) - 1) / 12 : 0;
  return { from: year + into, to: into ? year + into + 1 / 12 : year + size };
}
