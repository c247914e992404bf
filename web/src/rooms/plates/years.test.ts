import { expect, test } from "vitest";

import { yearsOf } from "./years";

test("a plate of one year counts once, one of four years a quarter in each", () => {
  expect(yearsOf([1880, 1879], [1880, 1882])).toEqual([
    { year: 1879, plates: 0.25 },
    { year: 1880, plates: 1.25 },
    { year: 1881, plates: 0.25 },
    { year: 1882, plates: 0.25 },
  ]);
});

test("a plate without bounds counts nowhere", () => {
  expect(yearsOf([null, 1880], [1890, null])).toEqual([]);
});
