import { expect, test } from "vitest";

import {
  circleIn,
  circleOf,
  circleSaid,
  gridLines,
  offGrid,
  onGrid,
  radiusPx,
  viewOf,
  zoomed,
} from "./blank-grid";

const SIZE: [number, number] = [400, 200];
const VIEW = { lon_deg: 8, lat_deg: 60, high_deg: 2 };

test("a place on the grid and back is the same place", () => {
  const [lon, lat] = offGrid(onGrid([8.3, 60.4], VIEW, SIZE), VIEW, SIZE);
  expect(lon).toBeCloseTo(8.3, 9);
  expect(lat).toBeCloseTo(60.4, 9);
});

test("a drag over a tenth of a degree of latitude is a circle of 11.1 km", () => {
  // 200 px show two degrees: 10 px are a tenth of a degree, 11.12 km on the sphere.
  const circle = circleOf([200, 100], [200, 90], VIEW, SIZE);
  expect(circle.radius_m).toBeCloseTo(11_119.5, 0);
  expect(radiusPx(circle, VIEW, SIZE)).toBeCloseTo(10, 9);
});

test("sixty degrees north a degree of longitude is half as wide", () => {
  const [x] = onGrid([9, 60], VIEW, SIZE);
  expect(x - 200).toBeCloseTo(50, 9);
});

test("coming nearer keeps what is under the pointer", () => {
  const at: [number, number] = [130, 40];
  const before = offGrid(at, VIEW, SIZE);
  const after = offGrid(at, zoomed(VIEW, 3, at, SIZE), SIZE);
  expect(after[1]).toBeCloseTo(before[1], 6);
});

test("there are a few lines at whole steps", () => {
  expect(gridLines(7.9, 8.3)).toEqual([7.9, 8, 8.1, 8.2, 8.3]);
  expect(gridLines(-180, 180)).toEqual([-180, -135, -90, -45, 0, 45, 90, 135, 180]);
});

test("a circle comes back from the words it is kept in", () => {
  const circle = { lon_deg: 7.1, lat_deg: -46.2, radius_m: 3000 };
  expect(circleIn(circleSaid(circle))).toEqual(circle);
  expect(circleIn("7.1, -46.2, 3km")).toEqual(circle);
  expect(circleIn("7,46,8,47")).toBeNull();
  expect(viewOf(circle).high_deg).toBeCloseTo(0.108, 3);
});
