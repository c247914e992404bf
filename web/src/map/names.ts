/** @file Lay names beside the signs of the map so that none covers another, or a region. */
import type { Coordinate } from "../sheet/gesture";

export type Side = "right" | "left" | "above" | "below";
export type Box = readonly [left: number, top: number, right: number, bottom: number];

export interface Named {
  at: Coordinate;
  text: string;
}

/** Where a name stands; with a leader line where that is not beside its sign. */
export interface NamePlace {
  side: Side;
  /** From the sign's middle to where the name begins or ends [px]. */
  off: Coordinate;
  far: boolean;
}

/** A name begins so far from its sign's middle, and is so high [px]. */
const OFF_PX = 9;
const HIGH_PX = 16;
/** The page's sans at 13 px, on average over words of lower case [px]. */
const LETTER_PX = 5.6;
/** A sign keeps so much to each side of its middle free of other names [px]. */
const SIGN_PX = 5;
/** Lines of names tried beside a region, the sign's own first. */
const LINES = [0, -1, 1, -2, 2, -3, 3, -4, 4];

const NEAR: readonly NamePlace[] = [
  { side: "right", off: [OFF_PX, 0], far: false },
  { side: "left", off: [-OFF_PX, 0], far: false },
  { side: "above", off: [0, -OFF_PX], far: false },
  { side: "below", off: [0, OFF_PX], far: false },
];

/**
 * Choose a place for each name, the first having the first choice; null where none is free.
 *
 * Names whose signs lie in what is kept free stand outside it, the nearer side first; none is
 * cut by the edge of the sheet, whose size is given.
 */
export function layNames(
  named: readonly Named[],
  keptFree: readonly Box[] = [],
  within: Coordinate = [Infinity, Infinity],
): (NamePlace | null)[] {
  const taken: Box[] = named.map(({ at: [x, y] }) => [
    x - SIGN_PX,
    y - SIGN_PX,
    x + SIGN_PX,
    y + SIGN_PX,
  ]);
  return named.map((one) => {
    for (const place of [...NEAR, ...outside(one.at, keptFree)]) {
      const box = boxOf(one, place);
      if (box[0] < 0 || box[1] < 0 || box[2] > within[0] || box[3] > within[1]) continue;
      if ([...taken, ...keptFree].some((other) => overlap(box, other))) continue;
      taken.push(box);
      return place;
    }
    return null;
  });
}

function outside([x, y]: Coordinate, keptFree: readonly Box[]): NamePlace[] {
  return keptFree
    .filter((box) => overlap(box, [x - OFF_PX, y - OFF_PX, x + OFF_PX, y + OFF_PX]))
    .flatMap(([left, , right]) => {
      const sides: NamePlace[] = [
        { side: "right", off: [right + OFF_PX - x, 0], far: true },
        { side: "left", off: [left - OFF_PX - x, 0], far: true },
      ];
      const nearerFirst = right - x <= x - left ? sides : sides.toReversed();
      return nearerFirst.flatMap((place) =>
        LINES.map((line): NamePlace => ({ ...place, off: [place.off[0], line * (HIGH_PX + 2)] })),
      );
    });
}

function boxOf({ at, text }: Named, { side, off }: NamePlace): Box {
  const [x, y] = [at[0] + off[0], at[1] + off[1]];
  const wide = text.length * LETTER_PX;
  const half = HIGH_PX / 2;
  switch (side) {
    case "right":
      return [x, y - half, x + wide, y + half];
    case "left":
      return [x - wide, y - half, x, y + half];
    case "above":
      return [x - wide / 2, y - HIGH_PX, x + wide / 2, y];
    case "below":
      return [x - wide / 2, y, x + wide / 2, y + HIGH_PX];
  }
}

function overlap(a: Box, b: Box): boolean {
  return a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
}
