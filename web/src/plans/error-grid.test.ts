import { expect, test } from "vitest";

import { errorAt, errorGrid, gridPoints } from "./error-grid";

const plane = (scale: number) =>
  errorGrid(
    800,
    600,
    gridPoints(800, 600).map(([x, y]) => scale * (1 + x / 100 + y / 50)),
  );

test("an error that grows evenly is told evenly between the places asked", () => {
  expect(errorAt(plane(2), [130, 470])).toBeCloseTo(2 * (1 + 1.3 + 9.4));
  expect(errorAt(plane(1), [800, 600])).toBeCloseTo(1 + 8 + 12);
});

test("off the sheet, and beyond its horizon, nothing is told", () => {
  expect(errorAt(plane(1), [-1, 10])).toBeNull();
  expect(errorAt(plane(1), [10, 601])).toBeNull();
  const holed = plane(1);
  holed.within90_m[0] = null;
  expect(errorAt(holed, [10, 10])).toBeNull();
  expect(errorAt(holed, [400, 300])).not.toBeNull();
});
