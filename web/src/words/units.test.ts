import { expect, test } from "vitest";

import {
  area,
  bearing,
  digits,
  doubted,
  length,
  lonLat,
  metresTyped,
  odds,
  roundLength,
  timeLeft,
  typedLength,
} from "./units";

test("a number keeps the digits that count and no others", () => {
  expect(digits(1234, 2)).toBe("1 200");
  expect(digits(0.0456, 2)).toBe("0.046");
  expect(digits(9.96, 2)).toBe("10");
  expect(digits(0, 2)).toBe("0");
});

test("a chain is 66 feet, a mile 80 chains", () => {
  expect(length(20.1168, "chains")).toBe("1 chain");
  expect(length(80 * 20.1168, "feet")).toBe("1 mile");
  expect(length(0.9144, "yards")).toBe("1 yd");
});

test("what was typed in a unit comes back as it was typed", () => {
  for (const units of ["metric", "feet", "yards", "chains"] as const)
    expect(typedLength(metresTyped(12.5, units), units)).toBe("12.5");
  expect(metresTyped(100, "feet")).toBe(30.48);
  expect(typedLength(20.1168, "chains")).toBe("1");
});

test("a scale bar is a round number of what it is told in", () => {
  expect(length(roundLength(1000, "feet"), "feet", 1)).toBe("2 000 ft");
  expect(roundLength(1000, "feet")).toBeCloseTo(2000 * 0.3048, 9);
  expect(length(roundLength(1000, "metric"), "metric", 1)).toBe("1 km");
  expect(roundLength(5000, "chains")).toBeCloseTo(2 * 1609.344, 9);
});

test("a doubted length shows no more digits than its doubt earns", () => {
  expect(doubted(12.34, 4.9, "metric")).toBe("12 m, give or take 5");
  expect(doubted(1234, 160, "metric")).toBe("1.2 km, give or take 0.2");
});

test("an area is in hectares, or acres of 4046.86 square metres", () => {
  expect(area(130_000, "metric")).toBe("13 ha");
  expect(area(40_468.564, "feet")).toBe("10 acres");
});

test("a bearing below north is turned round", () => {
  expect(bearing(-10)).toBe("350° (north)");
  expect(bearing(359.7)).toBe("0° (north)");
  expect(bearing(135)).toBe("135° (south-east)");
});

test("odds are those that one would say aloud", () => {
  expect(odds(0.88)).toBe("about 7 in 8");
  expect(odds(0.5)).toBe("about 1 in 2");
  expect(odds(0.999)).toBe("more than 199 in 200");
  expect(odds(0.001)).toBe("less than 1 in 200");
});

test("coordinates carry the digits that their doubt earns", () => {
  expect(lonLat(7.123456, -46.123456, 40)).toBe("46.1235° S, 7.1235° E");
  expect(lonLat(7.123456, 46.123456, 1000)).toBe("46.123° N, 7.123° E");
});

test("time left is said roughly", () => {
  expect(timeLeft(3)).toBe("a few seconds left");
  expect(timeLeft(33)).toBe("about 40 s left");
  expect(timeLeft(170)).toBe("about 3 min left");
});
