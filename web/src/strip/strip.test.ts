import { expect, test } from "vitest";

import {
  aboutZero,
  apartBy,
  elevationsFor,
  farness,
  horizonAt,
  marksFor,
  xOf,
  type StripShape,
} from "./strip";

const shape: StripShape = {
  wide_px: 800,
  high_px: 160,
  middle_deg: 350,
  shown_deg: 80,
  least_deg: -2,
  most_deg: 8,
};
const level = {
  from_deg: 0,
  step_deg: 1,
  elevation_deg: Array.from({ length: 360 }, (_, i) => (i === 5 ? 3 : 2)),
  distance_m: Array.from({ length: 360 }, () => 1000),
};

test("north lies right of 350 degrees, across the turn", () => {
  expect(xOf(0, shape)).toBe(500);
  expect(xOf(340, shape)).toBe(300);
});

test("angles come about zero", () => {
  expect([190, -190, 540, 0].map(aboutZero)).toEqual([-170, 170, -180, 0]);
});

test("the horizon is read between its samples, and across north", () => {
  expect(horizonAt(level, 4.5)?.deg).toBeCloseTo(2.5, 9);
  expect(horizonAt(level, 359.5)?.deg).toBe(2);
  expect(horizonAt({ ...level, elevation_deg: [null, 1] }, 0.5)).toBeNull();
});

test("a trace half a degree above the horizon is half a degree apart", () => {
  const runs = [{ bearing_deg: [-20, -10, 20], elevation_deg: [2.5, 2.5, 2.5] }];
  expect(apartBy(level, runs, 100)).toBeCloseTo(0.5, 9);
});

test("tone goes by the logarithm of distance", () => {
  expect(farness(1000, 100, 10_000)).toBeCloseTo(0.5, 9);
  expect(farness(50, 100, 10_000)).toBe(0);
});

test("every quarter of the turn is named", () => {
  expect(marksFor(shape).filter(({ named }) => named)).toEqual([{ deg: 0, named: true }]);
});

test("elevations leave air above and ground below", () => {
  const [least, most] = elevationsFor([1, 6]);
  expect(least).toBeLessThan(0);
  expect(most).toBeGreaterThan(6.5);
});
