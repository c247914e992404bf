import { expect, test } from "vitest";

import { readLonLat } from "./read-lonlat";

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
