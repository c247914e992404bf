import { expect, test } from "vitest";

import { hoursOf, pathOf } from "./sheet-of-days";

test("the hours drawn hold sunrise and sunset, and an hour more", () => {
  const line = [
    [1, 8 * 60 + 10],
    [172, 4 * 60 + 30],
    [172, 19 * 60 + 40],
  ] as const;
  expect(hoursOf([line])).toEqual([3, 21]);
});

test("where the sun never sets, all hours are drawn", () => {
  expect(hoursOf([])).toEqual([0, 24]);
});

test("a line of one point is no line", () => {
  const same = (value: number): number => value;
  expect(pathOf([[[1, 2]]], same, same)).toBe("");
  expect(
    pathOf(
      [
        [
          [1, 2],
          [3, 4],
        ],
      ],
      same,
      same,
    ),
  ).toBe("M1.0 2.0L3.0 4.0");
});
