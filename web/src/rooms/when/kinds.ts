/** @file What a plate can show of hour, season and making: the names that the server knows. */
import type { Schemas } from "../../api/client";

export type Kind = Schemas["EvidenceItemForm"]["kind"];

export const OF_TIME: readonly Kind[] = [
  "shadow",
  "shadow_edge",
  "lit_face",
  "hour",
  "season",
  "period",
  "water_seen",
  "older_plate",
  "blur",
  "making",
  "reading",
];
export const SIGNS = [
  "leaf",
  "bare",
  "blossom",
  "snow",
  "hay",
  "stooks",
  "low river",
  "high river",
] as const;
export const WATERS = ["tide in", "tide out", "tide mark", "flood", "flood mark", "ice"] as const;
export const MOVING = [
  "person walking",
  "person standing",
  "horse walking",
  "horse trotting",
  "cart",
  "river",
  "surf",
] as const;
export const CLOCKS = ["local mean", "by the sun", "zone"] as const;
export const CLUES = [
  "thick glass",
  "thin glass",
  "rough edges",
  "cut edges",
  "uneven coat",
  "even coat",
  "thumb mark",
  "varnish",
  "cream tone",
  "silver mirror",
  "odd size",
  "flexible",
  "notches",
] as const;
export const READINGS = [
  "writing reads",
  "writing is mirrored",
  "clock reads",
  "clock is mirrored",
  "coats button as usual",
  "coats button the other way",
] as const;
export const MODES = [
  "on foot",
  "pack horse",
  "cart",
  "coach",
  "railway",
  "sailing ship",
  "steamer",
] as const;
