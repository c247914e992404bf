import { expect, test } from "vitest";

import {
  along,
  circle,
  dotsOf,
  gridBearing,
  ringsOf,
  roundBelow,
  shapeOf,
  withPoint,
} from "./geometry";

test("a bearing leads to a place that bears so", () => {
  for (const bearing of [0, 45, 135, 225, 300]) {
    const [east, north] = along(bearing, 0);
    expect(gridBearing([0, 0], [east, north])).toBeCloseTo(bearing, 9);
  }
});

test("true north turns with the grid: a true bearing is a grid bearing and the turn", () => {
  expect(gridBearing([0, 0], along(90, 2))).toBeCloseTo(88, 9);
});

test("an outline with a hole has two rings, and is closed", () => {
  const ring = [
    [0, 0],
    [1, 0],
    [1, 1],
  ];
  expect(ringsOf({ type: "Polygon", coordinates: [ring, ring] })).toMatchObject({
    closed: true,
    rings: [ring, ring],
  });
  expect(ringsOf({ type: "Point", coordinates: [7, 46, 900] })?.rings).toEqual([[[7, 46]]]);
  expect(ringsOf(null)).toBeNull();
});

test("round lengths are 1, 2 or 5 times a power of ten", () => {
  expect([1, 19.9, 20, 499, 500, 0.7].map(roundBelow)).toEqual([1, 10, 20, 200, 500, 0.5]);
});

test("dots lie within their cells, as many as the share earns", () => {
  const dots = dotsOf(
    [
      [0, 0, 10, 0.75],
      [100, 0, 10, 0.25],
    ],
    400,
  );
  const left = dots.filter(([east]) => east < 50);
  expect(left.length).toBeCloseTo(300, -1);
  expect(left.every(([e, n]) => Math.abs(e) <= 5 && Math.abs(n) <= 5)).toBe(true);
});

test("a circle's corners lie on it", () => {
  for (const [e, n] of circle([3, 4], 5)) expect(Math.hypot(e - 3, n - 4)).toBeCloseTo(5, 9);
});

test("what was clicked is a point, a way along, or ground", () => {
  const [a, b, c] = [
    [7.1, 46.1],
    [7.2, 46.1],
    [7.2, 46.2],
  ] as [number, number][];
  if (!a || !b || !c) return;
  expect(shapeOf([a], false)).toEqual({ type: "Point", coordinates: a });
  expect(shapeOf([a, b], false)).toEqual({ type: "LineString", coordinates: [a, b] });
  expect(shapeOf([a, b, c], true)).toEqual({ type: "LineString", coordinates: [a, b, c] });
  expect(shapeOf([a, b, c], false)).toEqual({ type: "Polygon", coordinates: [[a, b, c, a]] });
});

test("the second click of a double click adds no point", () => {
  expect(withPoint([[10, 20]], [10, 20])).toEqual([[10, 20]]);
  expect(withPoint([[10, 20]], [11, 20])).toHaveLength(2);
});
