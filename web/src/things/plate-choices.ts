/** @file What a plate's columns may say, where it is chosen from a list. */

export const GRADES = ["answerable now", "needs a plan", "needs another view", "hopeless so far"];
export const PROCESSES = ["glass negative", "direct positive", "print"];
export const FOOTINGS = ["tripod", "upper floor", "roof", "ship", "wharf"];
export const SOURCE_KINDS = [
  "archive",
  "book",
  "caption",
  "catalogue",
  "map",
  "newspaper",
  "oral",
  "photograph",
  "plan",
  "register",
  "website",
  "other",
] as const;
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
