/** @file What is read on a visit, row by row, and which of its fields are asked for. */
import type { Schemas } from "../../api/client";

export type Reading = Schemas["ReadingGiven"];

export const KINDS = [
  "stood",
  "matches",
  "gap",
  "gap on plate",
  "tape",
  "thing",
  "height",
  "compass",
  "lens",
  "not here",
  "ground gone",
  "trees block it",
  "photograph",
  "changed",
  "note",
  "private",
] as const;
export type Kind = (typeof KINDS)[number];

type Part = "thing" | "other" | "value" | "sd" | "place" | "words";

/** The fields that a kind of reading needs, in the order in which they are asked. */
export const PARTS: Record<Kind, readonly Part[]> = {
  stood: ["place", "sd"],
  matches: ["value"],
  gap: ["thing", "other", "value", "sd"],
  "gap on plate": ["thing", "other", "value", "sd"],
  tape: ["thing", "value", "sd"],
  thing: ["thing", "place", "sd"],
  height: ["thing", "value", "sd"],
  compass: ["value"],
  lens: ["value"],
  "not here": ["place", "value", "words"],
  "ground gone": ["words"],
  "trees block it": ["words"],
  photograph: ["words"],
  changed: ["words"],
  note: ["words"],
  private: ["words"],
};

const UNIT: Partial<Record<Kind, string>> = { gap: "°", "gap on plate": "°", compass: "°" };
/** In what a kind's value is told. */
export const unitOf = (kind: string): string => UNIT[kind as Kind] ?? "m";

/** A reading in one line, so that it can be looked over before it is kept. */
export function readingLine({ what, thing, other, words, ...read }: Reading): string {
  const told = (value: number | null | undefined): value is number => typeof value === "number";
  const value = told(read.value) ? `${read.value} ${unitOf(what)}` : "";
  const sure = told(read.sd) ? `± ${read.sd} ${unitOf(what)}` : "";
  const place =
    told(read.lon_deg) && told(read.lat_deg)
      ? `${read.lat_deg.toFixed(6)}, ${read.lon_deg.toFixed(6)}`
      : "";
  const things = [thing, other].filter(Boolean).join(" – ");
  return [things, place, value, sure, words].filter(Boolean).join(", ");
}
