/** @file Lay names beside the signs of the map so that none covers another. */
import type { Coordinate } from "../sheet/gesture";

export type Side = "right" | "left" | "above" | "below";

export interface Named {
  at: Coordinate;
  text: string;
}

/** A name begins so far from its sign's middle, and is so high [px]. */
const OFF_PX = 9;
const HIGH_PX = 16;
/** The page's sans at 13 px, on average over words of lower case [px]. */
const LETTER_PX = 6.2;
/** A sign keeps so much to each side of its middle free of other names [px]. */
const SIGN_PX = 5;

type Box = [left: number, top: number, right: number, bottom: number];

/** Choose a side for each name, the first having the first choice; null where none is free. */
export function layNames(named: readonly Named[]): (Side | null)[] {
  const taken: Box[] = named.map(({ at: [x, y] }) => [
    x - SIGN_PX,
    y - SIGN_PX,
    x + SIGN_PX,
    y + SIGN_PX,
  ]);
  return named.map((one) => {
    for (const side of ["right", "left", "above", "below"] as const) {
      const box = boxOf(one, side);
      if (taken.some((other) => overlap(box, other))) continue;
      taken.push(box);
      return side;
    }
    return null;
  });
}

function boxOf({ at: [x, y], text }: Named, side: Side): Box {
  const wide = text.length * LETTER_PX;
  const half = HIGH_PX / 2;
  switch (side) {
    case "right":
      return [x + OFF_PX, y - half, x + OFF_PX + wide, y + half];
    case "left":
      return [x - OFF_PX - wide, y - half, x - OFF_PX, y + half];
    case "above":
      return [x - wide / 2, y - OFF_PX - HIGH_PX, x + wide / 2, y - OFF_PX];
    case "below":
      return [x - wide / 2, y + OFF_PX, x + wide / 2, y + OFF_PX + HIGH_PX];
  }
}

function overlap(a: Box, b: Box): boolean {
  return a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
}
