/** @file Paint what lies on the map: contours, ground searched, regions, views. */
import type { Schemas } from "../api/client";
import type { inks } from "../look/look.svelte";
import type { Coordinate } from "../sheet/gesture";
import { length, roundLength, type Units } from "../words/units";
import { along } from "./geometry";
import type { Laid, Metres } from "./ground.svelte";

type Pen = CanvasRenderingContext2D;
type Inks = ReturnType<typeof inks>;
export type OnMap = (at: Metres) => Coordinate;

function trace(
  pen: Pen,
  line: readonly (readonly [number, number])[],
  on: OnMap,
  closed = false,
): void {
  for (const [i, [e, n]] of line.entries()) {
    const [x, y] = on([e, n]);
    if (i === 0) pen.moveTo(x, y);
    else pen.lineTo(x, y);
  }
  if (closed) pen.closePath();
}

/** Every fifth contour is heavier, as on printed sheets. */
const HEAVY_EVERY = 5;

export function paintContours(
  pen: Pen,
  lines: Schemas["Contour"][],
  interval_m: number,
  on: OnMap,
  ink: Inks,
  units: Units,
): void {
  pen.strokeStyle = ink.pencil;
  pen.setLineDash([]);
  for (const heavy of [false, true]) {
    pen.globalAlpha = heavy ? 0.65 : 0.35;
    pen.lineWidth = heavy ? 0.9 : 0.6;
    pen.beginPath();
    for (const { height_m, points_m } of lines) {
      if ((Math.round(height_m / interval_m) % HEAVY_EVERY === 0) === heavy)
        trace(pen, points_m, on);
    }
    pen.stroke();
  }
  pen.globalAlpha = 1;
  paintHeights(pen, lines, interval_m, on, units, ink);
}

/** A contour as long as this on the screen is told its height, and no nearer to another [px]. */
const TOLD_PX = 150;
const HEIGHTS_APART_PX = 110;

function paintHeights(
  pen: Pen,
  lines: Schemas["Contour"][],
  interval_m: number,
  on: OnMap,
  units: Units,
  ink: Inks,
): void {
  const there: Coordinate[] = [];
  pen.save();
  pen.font = '11px "Page Sans", sans-serif';
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.lineJoin = "round";
  for (const { height_m, points_m } of lines) {
    if (Math.round(height_m / interval_m) % HEAVY_EVERY !== 0 || points_m.length < 2) continue;
    const spots = points_m.map((point) => on(point as Metres));
    let [walked, told] = [0, HEIGHTS_APART_PX - TOLD_PX];
    for (let i = 1; i < spots.length; i++) {
      const [a, b] = [spots[i - 1], spots[i]];
      if (!a || !b) continue;
      walked += Math.hypot(b[0] - a[0], b[1] - a[1]);
      if (walked - told < TOLD_PX) continue;
      if (there.some(([x, y]) => Math.hypot(x - b[0], y - b[1]) < HEIGHTS_APART_PX)) continue;
      told = walked;
      there.push(b);
      const text = length(height_m, units, 4);
      pen.strokeStyle = ink.paper;
      pen.lineWidth = 3;
      pen.strokeText(text, b[0], b[1]);
      pen.fillStyle = ink.pencil;
      pen.fillText(text, b[0], b[1]);
    }
  }
  pen.restore();
}

/** A smaller region on the screen is told no share: words would cover it [px]. */
const LEAST_TOLD_PX = 48;

/** Say beside a region how much it holds, at its lowest or its highest point. */
export function paintShare(
  pen: Pen,
  rings: readonly (readonly (readonly [number, number])[])[],
  share: number,
  on: OnMap,
  ink: Inks,
  at: "top" | "foot",
): void {
  const spots = rings.flatMap((ring) => ring.map(([e, n]) => on([e, n])));
  const heights = spots.map(([, y]) => y);
  if (Math.max(...heights) - Math.min(...heights) < LEAST_TOLD_PX) return;
  const way = at === "top" ? -1 : 1;
  const far = spots.toSorted((a, b) => way * (b[1] - a[1]))[0];
  if (far) words(pen, `${Math.round(100 * share)}%`, [far[0] - 10, far[1] + way * 12], ink);
}

/** Paint an outline that a person drew, solid, or one that the machine found, dashed. */
export function paintOutlines(
  pen: Pen,
  rings: readonly (readonly (readonly [number, number])[])[],
  on: OnMap,
  colour: string,
  { dash = [] as number[], width = 1.6, closed = true, casing = "" } = {},
): void {
  pen.beginPath();
  for (const ring of rings) trace(pen, ring, on, closed);
  if (casing) {
    pen.setLineDash([]);
    pen.strokeStyle = casing;
    pen.lineWidth = width + 2.5;
    pen.globalAlpha = 0.7;
    pen.stroke();
    pen.globalAlpha = 1;
  }
  pen.strokeStyle = colour;
  pen.lineWidth = width;
  pen.setLineDash(dash);
  pen.stroke();
  pen.setLineDash([]);
}

/** Paint dots, denser where likelier. */
export function paintDots(pen: Pen, dots: Metres[], on: OnMap, colour: string): void {
  pen.fillStyle = colour;
  pen.beginPath();
  for (const dot of dots) {
    const [x, y] = on(dot);
    pen.rect(x - 0.8, y - 0.8, 1.6, 1.6);
  }
  pen.fill();
}

/** Paint spots near by from which a view is open: small dashed rings with how far off they are. */
export function paintClearSpots(
  pen: Pen,
  spots: { at: Metres; words: string }[],
  on: OnMap,
  ink: Inks,
): void {
  pen.save();
  pen.font = '12px "Page Sans", sans-serif';
  pen.lineJoin = "round";
  for (const { at, words } of spots) {
    const [x, y] = on(at);
    for (const [colour, width, dash] of [
      [ink.paper, 4, []],
      [ink.blue, 1.5, [3, 2]],
    ] as const) {
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      pen.setLineDash([...dash]);
      pen.beginPath();
      pen.arc(x, y, 6, 0, 2 * Math.PI);
      pen.stroke();
    }
    pen.setLineDash([]);
    pen.strokeStyle = ink.paper;
    pen.lineWidth = 3;
    pen.strokeText(words, x + 9, y + 4);
    pen.fillStyle = ink.blue;
    pen.fillText(words, x + 9, y + 4);
  }
  pen.restore();
}

/** Paint the edges of a view as two lines that fade with distance. */
export function paintWedge(
  pen: Pen,
  at: Metres,
  bearings_deg: readonly [number, number],
  turn_deg: number,
  reach_m: number,
  on: OnMap,
  colour: string,
  width = 1.2,
): void {
  const from = on(at);
  for (const bearing of bearings_deg) {
    const [de, dn] = along(bearing, turn_deg);
    const to = on([at[0] + de * reach_m, at[1] + dn * reach_m]);
    const fade = pen.createLinearGradient(from[0], from[1], to[0], to[1]);
    fade.addColorStop(0, colour);
    fade.addColorStop(1, `color-mix(in srgb, ${colour} 0%, transparent)`);
    pen.strokeStyle = fade;
    pen.lineWidth = width;
    pen.beginPath();
    pen.moveTo(...from);
    pen.lineTo(...to);
    pen.stroke();
  }
}

/** Paint the way to the sun from the camera: a dashed line that ends in a small sun. */
export function paintSun(
  pen: Pen,
  camera: Metres,
  grid_bearing_deg: number,
  far_m: number,
  on: OnMap,
  ink: Inks,
): void {
  const [east, north] = along(grid_bearing_deg, 0);
  const [x, y] = on([camera[0] + far_m * east, camera[1] + far_m * north]);
  const [cx, cy] = on(camera);
  pen.strokeStyle = ink.blue;
  pen.lineWidth = 1.5;
  pen.setLineDash([6, 4]);
  pen.beginPath();
  pen.moveTo(cx, cy);
  pen.lineTo(x, y);
  pen.stroke();
  pen.setLineDash([]);
  pen.fillStyle = ink.paper;
  pen.beginPath();
  pen.arc(x, y, 6, 0, 2 * Math.PI);
  pen.fill();
  pen.stroke();
  pen.beginPath();
  for (let ray = 0; ray < 8; ray++) {
    const [sin, cos] = [Math.sin((ray * Math.PI) / 4), Math.cos((ray * Math.PI) / 4)];
    pen.moveTo(x + 8.5 * sin, y + 8.5 * cos);
    pen.lineTo(x + 12 * sin, y + 12 * cos);
  }
  pen.stroke();
}

/** A shadow shorter than this on the screen has its way drawn on, dotted [px]. */
const SHORTEST_SHADOW_PX = 36;

/** Paint a shadow as a person marked it, from its foot to its tip. */
export function paintShadow(pen: Pen, foot: Metres, tip: Metres, on: OnMap, ink: Inks): void {
  const [fx, fy] = on(foot);
  const [tx, ty] = on(tip);
  pen.setLineDash([]);
  for (const [colour, width] of [
    [ink.paper, 6],
    [ink.madder, 3],
  ] as const) {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.beginPath();
    pen.moveTo(fx, fy);
    pen.lineTo(tx, ty);
    pen.stroke();
  }
  // At a scale where it is a dot, the way it falls is drawn on from its tip.
  const long = Math.hypot(tx - fx, ty - fy);
  if (long > 0 && long < SHORTEST_SHADOW_PX) {
    const grow = SHORTEST_SHADOW_PX / long;
    pen.setLineDash([2, 3]);
    pen.lineWidth = 2;
    pen.beginPath();
    pen.moveTo(tx, ty);
    pen.lineTo(fx + grow * (tx - fx), fy + grow * (ty - fy));
    pen.stroke();
    pen.setLineDash([]);
  }
  pen.fillStyle = ink.madder;
  pen.beginPath();
  pen.arc(fx, fy, 4, 0, 2 * Math.PI);
  pen.fill();
}

export function paintFeatures(pen: Pen, laid: Laid[], on: OnMap, ink: Inks): void {
  pen.setLineDash([]);
  for (const { rings, closed } of laid) {
    if (rings.length === 1 && (rings[0]?.length ?? 0) < 2) continue;
    pen.beginPath();
    for (const ring of rings) trace(pen, ring, on, closed);
    pen.strokeStyle = ink.paper;
    pen.lineWidth = 3;
    pen.stroke();
    pen.strokeStyle = ink.graphite;
    pen.lineWidth = 1.1;
    pen.stroke();
  }
}

/** A scale bar is no longer than this on the screen [px]. */
const LONGEST_BAR_PX = 130;

/** Paint a scale bar and an arrow to true north. */
export function paintScale(
  pen: Pen,
  metres_per_px: number,
  [, high]: Coordinate,
  units: Units,
  ink: Inks,
): void {
  const length_m = roundLength(metres_per_px * LONGEST_BAR_PX, units);
  const long = length_m / metres_per_px;
  const [x, y] = [14, high - 14];
  pen.setLineDash([]);
  for (const [colour, width] of [
    [ink.paper, 5],
    [ink.graphite, 1.5],
  ] as const) {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.beginPath();
    pen.moveTo(x, y - 5);
    pen.lineTo(x, y);
    pen.lineTo(x + long, y);
    pen.lineTo(x + long, y - 5);
    pen.stroke();
  }
  words(pen, length(length_m, units, 1), [x + long + 8, y + 1], ink);
}

export function paintNorth(
  pen: Pen,
  [wide]: Coordinate,
  turn_deg: number,
  name: string,
  ink: Inks,
): void {
  const angle = (-turn_deg * Math.PI) / 180;
  const [x, y] = [wide - 24, 46];
  const [dx, dy] = [Math.sin(angle), -Math.cos(angle)];
  pen.setLineDash([]);
  for (const [colour, width] of [
    [ink.paper, 5],
    [ink.graphite, 1.5],
  ] as const) {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.beginPath();
    pen.moveTo(x - dx * 12, y - dy * 12);
    pen.lineTo(x + dx * 12, y + dy * 12);
    pen.lineTo(x + dx * 4 - dy * 4, y + dy * 4 + dx * 4);
    pen.stroke();
  }
  words(pen, name, [x - 4, y - 18], ink);
}

export function words(pen: Pen, text: string, [x, y]: Coordinate, ink: Inks): void {
  pen.font = '13px "Page Sans", sans-serif';
  pen.lineJoin = "round";
  pen.strokeStyle = ink.paper;
  pen.lineWidth = 4;
  pen.strokeText(text, x, y);
  pen.fillStyle = ink.graphite;
  pen.fillText(text, x, y);
}
