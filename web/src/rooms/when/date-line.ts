/** @file Tell a date in one line: what it dates, and its words where they are not those of EDTF. */
import { words } from "../../words/en";
import { untold } from "./edtf-years";
import type { Event } from "./events";

export function lineOf(date: { of: Event | null; edtf: string; words: string | null }): string {
  const w = words.when;
  if (untold(date.edtf) && date.words) return w.asWritten(date.of, date.words);
  return w.says(w.line(date.of, date.edtf), date.words);
}
