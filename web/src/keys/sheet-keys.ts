/** @file Keys of plate and map: bound by the sheets themselves, and told of on the help page. */
import { words } from "../words/en";
import type { Bound } from "./combos";

export const SHEET_KEYS: Bound[] = words.sheetKeys.map(([keys, told]) => ({
  keys,
  group: "sheet",
  words: told,
}));
