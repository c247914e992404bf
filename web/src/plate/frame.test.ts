import { expect, test } from "vitest";

import { laidTags, letterAt, scanFromSheet, sheetFromScan } from "./frame";

test("scan and sheet lead back to each other, flipped or not", () => {
  for (const flipped of [false, true]) {
    const frame = { width_px: 900, height_px: 600, flipped };
    expect(scanFromSheet(sheetFromScan([123.5, 56.75], frame), frame)).toEqual([123.5, 56.75]);
  }
});

test("the left edge of a flipped scan lies at the right", () => {
  expect(sheetFromScan([0, 10], { width_px: 900, height_px: 600, flipped: true })).toEqual([
    900, -10,
  ]);
});

test("after Z comes AA", () => {
  expect([0, 25, 26, 27, 51, 52].map(letterAt)).toEqual(["A", "Z", "AA", "AB", "AZ", "BA"]);
});

test("tags of near marks do not cover one another", () => {
  const side = 22;
  const tags = laidTags(
    [
      [100, 100],
      [104, 102],
      [98, 99],
      [101, 103],
    ],
    side,
  );
  for (const [i, a] of tags.entries())
    for (const b of tags.slice(i + 1))
      expect(Math.max(Math.abs(a[0] - b[0]), Math.abs(a[1] - b[1]))).toBeGreaterThanOrEqual(side);
});
