import { expect, test } from "vitest";

import { layOut } from "./ways";

test("north is up, and a degree of longitude shrinks with the latitude", () => {
  const { at } = layOut(
    [
      { lon_deg: 8, lat_deg: 60 },
      { lon_deg: 10, lat_deg: 60 },
      { lon_deg: 8, lat_deg: 61 },
    ],
    400,
    400,
  );
  const [a, b, c] = at as [[number, number], [number, number], [number, number]];
  expect(a[1]).toBeCloseTo(b[1]);
  expect(c[1]).toBeLessThan(a[1]);
  // Two degrees of longitude at 60 north are as long as one of latitude: cos 60 = 1/2.
  expect(b[0] - a[0]).toBeCloseTo(a[1] - c[1], 3);
});

test("places on both sides of the date line lie beside one another", () => {
  const { at } = layOut(
    [
      { lon_deg: 179.9, lat_deg: -18 },
      { lon_deg: -179.9, lat_deg: -18 },
    ],
    400,
    200,
  );
  expect((at[1]?.[0] ?? 0) - (at[0]?.[0] ?? 0)).toBeGreaterThan(0);
});
