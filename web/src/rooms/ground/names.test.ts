import { expect, test } from "vitest";

import { differenceCurve, shownNames } from "./names";

const name = (x_px: number, seen = true) => ({
  feature_id: null,
  name: `at ${x_px}`,
  x_px,
  y_px: 0,
  distance_m: 1,
  bearing_deg: 0,
  elevation_deg: 0,
  height_m: 0,
  seen,
  hidden_by_m: 0,
});

test("numbers run from left to right, hidden ones only where asked", () => {
  const names = [name(30), name(10), name(20, false)];
  expect(shownNames(names, false).map(({ name: n, number }) => [n.x_px, number])).toEqual([
    [10, 1],
    [30, 2],
  ]);
  expect(shownNames(names, true)).toHaveLength(3);
});

test("the curve lifts its pen at a gap and keeps within its frame", () => {
  const { path, most_px } = differenceCurve([0, 50, 100], [4, null, -2], 200, 40);
  expect(most_px).toBe(4);
  expect(path.match(/M/g)).toHaveLength(2);
  expect(path).toContain("M0.0 2.0");
});
