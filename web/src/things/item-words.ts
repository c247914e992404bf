/** @file Items of evidence in a person's words. */
import type { Schemas } from "../api/client";
import type { SignName } from "../look/signs";
import { words } from "../words/en";
import { length, type Units } from "../words/units";

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
  shadow: "shadow",
  shadow_edge: "wall",
  lit_face: "shadow",
  hour: "when",
  season: "when",
  period: "when",
  blur: "blur",
  older_plate: "order",
  water_seen: "water",
};

/** What the server calls a line that no person has touched. */
const BY_MACHINE = "traced by machine";

/** Say what an item tells; `called` turns a key into what a person calls it by. */
export function evidenceWords(
  item: EvidenceItem,
  called: (key: string) => string,
  units: Units,
): string {
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
      return w.distance(name("feature"), length(Number(content.distance_m), units, 3));
    case "known_size":
      return w.size(length(Number(content.length_m), units, 3));
    case "hour":
      return w.hour(String(content.hour), content.day ? String(content.day) : "");
    case "season":
      return w.season(String(content.sign));
    case "period":
      return w.period(String(content.name));
    case "water_seen":
      return w.water(String(content.state));
    case "older_plate":
      return w.older(content.what ? String(content.what) : "");
    case "lit_face":
      return w.face(Number(content.looks_deg), content.lit === true);
    case "making":
      return w.making(String(content.clue));
    case "reading":
      return w.reading(String(content.reads));
    case "blur":
      return w.blur(String(content.moving));
    case "ridge_line":
      return item.source_words === BY_MACHINE ? w.offeredRidge : w.kinds.ridge_line;
    default:
      return w.kinds[item.kind];
  }
}

/** The points that an item has on the scan, if it has any. */
export function pointsOf(item: EvidenceItem): [number, number][] {
  const points = (item.content as { points_px?: unknown } | null)?.points_px;
  return Array.isArray(points) ? (points as [number, number][]) : [];
}
