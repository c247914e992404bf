/** @file Which events a source may date, and what each says of the exposure (docs/dating.md). */
import type { Schemas } from "../../api/client";

export type Event = NonNullable<Schemas["DatingForm"]["of"]>;
type Says = "then" | "not before" | "not after" | "nothing";

const SAYS: Record<Event, Says> = {
  exposed: "then",
  "not before": "not before",
  "not after": "not after",
  reported: "then",
  announced: "not before",
  printed: "not after",
  mounted: "not after",
  published: "not after",
  "written on it": "not after",
  exhibited: "not after",
  registered: "not after",
  acquired: "not after",
  "shown, built": "not before",
  "shown, contract let": "not before",
  "shown, foundation laid": "not before",
  "shown, moved here": "not before",
  "shown, first mentioned": "nothing",
  "shown, name first used": "nothing",
  "shown, gone": "not after",
  "shown, moved away": "not after",
  "shown, last mentioned": "nothing",
  "missing, built": "not after",
  "missing, contract let": "not after",
  "missing, first mentioned": "not after",
  "missing, gone": "not before",
  "missing, last mentioned": "not before",
  "in use": "then",
};

export const EVENTS = Object.keys(SAYS) as Event[];

/** Tell what a date of an event says of the exposure. */
export function saysOf(of: Event | null): Says {
  return of === null ? "then" : SAYS[of];
}
