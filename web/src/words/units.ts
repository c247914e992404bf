/** @file Lengths, areas, bearings and odds as a person reads them. */
import type { Schemas } from "../api/client";
import { roundBelow } from "../map/geometry";

export type Units = Schemas["SettingsTold"]["units"];

interface Measure {
  short: [string, number];
  long: [string, number];
  /** From how many metres on the long unit is used. */
  longFrom_m: number;
}

const FOOT_M = 0.3048;
const YARD_M = 3 * FOOT_M;
const CHAIN_M = 66 * FOOT_M;
const MILE_M = 5280 * FOOT_M;

const MEASURES: Record<Units, Measure> = {
  metric: { short: ["m", 1], long: ["km", 1000], longFrom_m: 1000 },
  feet: { short: ["ft", FOOT_M], long: ["miles", MILE_M], longFrom_m: MILE_M },
  yards: { short: ["yd", YARD_M], long: ["miles", MILE_M], longFrom_m: MILE_M },
  chains: { short: ["chains", CHAIN_M], long: ["miles", MILE_M], longFrom_m: 2 * MILE_M },
};

/** Write a number with so many digits that count, and no more. */
export function digits(value: number, count: number): string {
  if (value === 0) return "0";
  const places = Math.max(0, count - 1 - Math.floor(Math.log10(Math.abs(value))));
  const step = 10 ** Math.max(0, Math.floor(Math.log10(Math.abs(value))) - count + 1);
  const round = places > 0 ? Number(value.toFixed(places)) : Math.round(value / step) * step;
  return round.toLocaleString("en", { maximumFractionDigits: places }).replace(/,/g, " ");
}

/** "340 m", "1.2 km", "17 chains". */
export function length(metres: number, units: Units, count = 2): string {
  const measure = MEASURES[units];
  const [unit, size] = Math.abs(metres) >= measure.longFrom_m ? measure.long : measure.short;
  const number = digits(metres / size, count);
  return `${number} ${number === "1" ? unit.replace(/s$/, "") : unit}`;
}

/** The greatest length up to one that is a round number of the unit it is told in [m]. */
export function roundLength(metres: number, units: Units): number {
  const { short, long, longFrom_m } = MEASURES[units];
  const size_m = metres >= longFrom_m ? long[1] : short[1];
  return roundBelow(metres / size_m) * size_m;
}

/** What the short unit of lengths is called, and how many metres it has. */
export function shortUnit(units: Units): { name: string; size_m: number } {
  const [name, size_m] = MEASURES[units].short;
  return { name, size_m };
}

/** A length as it is typed: in the short unit, to a thousandth. */
export function typedLength(metres: number, units: Units): string {
  return String(Number((metres / shortUnit(units).size_m).toFixed(3)));
}

/** What was typed in the short unit, in metres to a tenth of a millimetre. */
export function metresTyped(typed: number, units: Units): number {
  return Number((typed * shortUnit(units).size_m).toFixed(4));
}

/** "12 m, give or take 5": no more digits than the doubt earns. */
export function doubted(metres: number, sd_m: number, units: Units): string {
  const measure = MEASURES[units];
  const [unit, size] = Math.abs(metres) >= measure.longFrom_m ? measure.long : measure.short;
  const value = metres / size;
  const sd = sd_m / size;
  const step = 10 ** Math.floor(Math.log10(Math.max(sd, 1e-9)));
  const places = Math.max(0, -Math.round(Math.log10(step)));
  const round = (x: number): string => (Math.round(x / step) * step).toFixed(places);
  return `${round(value)} ${unit}, give or take ${round(sd)}`;
}

/** "13 ha", "0.4 km²", or in acres. */
export function area(square_m: number, units: Units): string {
  if (units !== "metric") return `${digits(square_m / 4046.8564224, 2)} acres`;
  if (square_m < 10_000) return `${digits(square_m, 2)} m²`;
  if (square_m < 1_000_000) return `${digits(square_m / 10_000, 2)} ha`;
  return `${digits(square_m / 1_000_000, 2)} km²`;
}

const POINTS = [
  "north",
  "north-east",
  "east",
  "south-east",
  "south",
  "south-west",
  "west",
  "north-west",
];

/** "193° (south)". */
export function bearing(deg: number): string {
  const turned = ((deg % 360) + 360) % 360;
  return `${Math.round(turned) % 360}° (${compass(turned)})`;
}

export function compass(deg: number): string {
  return POINTS[Math.round((((deg % 360) + 360) % 360) / 45) % 8] ?? "north";
}

/** Ratios that people say, by which odds are spoken of. */
const SAID: [number, string][] = [
  [1 / 100, "about 1 in 100"],
  [1 / 50, "about 1 in 50"],
  [1 / 20, "about 1 in 20"],
  [1 / 10, "about 1 in 10"],
  [1 / 8, "about 1 in 8"],
  [1 / 5, "about 1 in 5"],
  [1 / 4, "about 1 in 4"],
  [1 / 3, "about 1 in 3"],
  [2 / 5, "about 2 in 5"],
  [1 / 2, "about 1 in 2"],
  [3 / 5, "about 3 in 5"],
  [2 / 3, "about 2 in 3"],
  [3 / 4, "about 3 in 4"],
  [4 / 5, "about 4 in 5"],
  [7 / 8, "about 7 in 8"],
  [9 / 10, "about 9 in 10"],
  [19 / 20, "about 19 in 20"],
  [49 / 50, "about 49 in 50"],
  [99 / 100, "about 99 in 100"],
];

/** Say a probability as one would aloud. */
export function odds(probability: number): string {
  if (probability <= 0.005) return "less than 1 in 200";
  if (probability >= 0.995) return "more than 199 in 200";
  const logit = (p: number): number => Math.log(p / (1 - p));
  const near = (p: number): number => Math.abs(logit(p) - logit(probability));
  return SAID.reduce((best, next) => (near(next[0]) < near(best[0]) ? next : best))[1];
}

/** "3 min left", said only as closely as it is known. */
export function timeLeft(seconds: number): string {
  if (seconds < 8) return "a few seconds left";
  if (seconds < 55) return `about ${Math.ceil(seconds / 10) * 10} s left`;
  return `about ${Math.max(1, Math.round(seconds / 60))} min left`;
}

/** A degree pair with no more digits than a doubt in metres earns. */
export function lonLat(lon_deg: number, lat_deg: number, sd_m: number): string {
  const places = Math.min(7, Math.max(0, Math.ceil(Math.log10(111_000 / Math.max(sd_m, 0.05)))));
  const ns = lat_deg < 0 ? "S" : "N";
  const ew = lon_deg < 0 ? "W" : "E";
  return `${Math.abs(lat_deg).toFixed(places)}° ${ns}, ${Math.abs(lon_deg).toFixed(places)}° ${ew}`;
}
