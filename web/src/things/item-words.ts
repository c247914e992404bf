/** @file Items of evidence in a person's words. */
import type { Schemas } from "../api/client";
import type { SignName } from "../look/signs";
import { words } from "../words/en";

type EvidenceItem = Schemas["EvidenceItemForm"];
type Kind = EvidenceItem["kind"];

export const SIGN_OF: Partial<Record<Kind, SignName>> = {
  hidden: "hidden",
  in_line: "inline",
  known_size: "measure",
  known_distance: "measure",
  order: "order",
  plumb_edge: "upright",
  ridge_line: "ridge",
  sea_horizon: "water",
  seen: "seen",
  skyline: "skyline",
  water_level: "water",
};

/** Say what an item tells; `called` turns a key into what a person calls it by. */
export function evidenceWords(item: EvidenceItem, called: (key: string) => string): string {
  const content = (item.content ?? {}) as Record<string, unknown>;
  const name = (key: string): string => called(String(content[key] ?? "?"));
  const w = words.evidence;
  switch (item.kind) {
    case "in_line":
      return w.inLine(name("a"), name("b"));
    case "order":
      return w.order(name("a"), String(content.relation ?? "left"), name("b"));
    case "seen":
      return w.seen(name("feature"));
    case "hidden":
      return w.hidden(name("feature"));
    case "known_distance":
      return w.distance(name("feature"), Number(content.distance_m));
    case "known_size":
      return w.size(Number(content.length_m));
    default:
      return w.kinds[item.kind];
  }
}

/** The points that an item has on the scan, if it has any. */
export function pointsOf(item: EvidenceItem): [number, number][] {
  const points = (item.content as { points_px?: unknown } | null)?.points_px;
  return Array.isArray(points) ? (points as [number, number][]) : [];
}
