/** @file What a plate's columns may say, where it is chosen from a list. */
import type { Thing } from "../api/things";

export const GRADES = ["answerable now", "needs a plan", "needs another view", "hopeless so far"];
export const PROCESSES = ["glass negative", "direct positive", "print"];
export const FOOTINGS = ["tripod", "upper floor", "roof", "ship", "wharf"];
/** In order; the checker of types asks for every kind that the server knows, and no other. */
const KINDS: Record<NonNullable<Thing<"sources">["kind"]>, true> = {
  archive: true,
  book: true,
  caption: true,
  catalogue: true,
  map: true,
  newspaper: true,
  oral: true,
  photograph: true,
  plan: true,
  register: true,
  website: true,
  other: true,
};
export const SOURCE_KINDS = Object.keys(KINDS);
export const SCANNED = [
  "negative",
  "contact print",
  "enlargement",
  "lantern slide",
  "newspaper cut",
  "postcard",
  "piece",
  "other",
] as const;
