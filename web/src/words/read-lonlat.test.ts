import { expect, test } from "vitest";

import { readLonLat, writeGround } from "./read-lonlat";

test("longitude comes first, unless letters say otherwise", () => {
  expect(readLonLat("7.1, 46.2")).toEqual([7.1, 46.2]);
  expect(readLonLat("46.2 N 7.1 E")).toEqual([7.1, 46.2]);
  expect(readLonLat("-7.1 -46.2")).toEqual([-7.1, -46.2]);
});

test("south and west are negative, minutes are sixtieths", () => {
  expect(readLonLat("46° 30' S, 7° 15' W")).toEqual([-7.25, -46.5]);
  expect(readLonLat("46° 30′ 36″ S, 7° W")?.[1]).toBeCloseTo(-46.51, 9);
});

test("what is no pair of coordinates is refused", () => {
  expect(readLonLat("by the bridge")).toBeNull();
  expect(readLonLat("7.1")).toBeNull();
  expect(readLonLat("7, 95")).toBeNull();
});

test("ground searched is written alike, however its point was typed", () => {
  expect(writeGround("7.1, 46.2, 3km")).toBe("7.1,46.2,3km");
  expect(writeGround("46° 30' S 7° 15' W, 4 miles")).toBe("-7.25,-46.5,4miles");
  expect(writeGround("46.5 N, 7.25 E 2.5 km")).toBe("7.25,46.5,2.5km");
});

test("a box and an outline stand as they are, and what has no point is refused", () => {
  expect(writeGround("7,46,8,47")).toBe("7,46,8,47");
  expect(writeGround('{"type": "Polygon"}')).toBe('{"type": "Polygon"}');
  expect(writeGround("by the bridge, 3 km")).toBeNull();
  expect(writeGround("7.1, 46.2")).toBeNull();
});
