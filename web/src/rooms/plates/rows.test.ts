import { expect, test } from "vitest";

import { inView, moved } from "./rows";

test("of ten thousand plates only what is in view, and a little more, is there", () => {
  const { first, last } = inView(50_000, 900, 200, 5, 10_000);
  expect(first).toBe(1240);
  expect(last - first).toBeLessThan(50);
});

test("the sheet ends at the last plate", () => {
  expect(inView(0, 900, 200, 5, 7)).toEqual({ first: 0, last: 6 });
  expect(inView(0, 900, 200, 5, 0).last).toBe(-1);
});

test("arrows go by one and by a row, and stop at the ends", () => {
  expect(moved("ArrowDown", 3, 5, 100, 4)).toBe(8);
  expect(moved("ArrowUp", 3, 5, 100, 4)).toBe(0);
  expect(moved("PageDown", 95, 5, 100, 4)).toBe(99);
  expect(moved("x", 3, 5, 100, 4)).toBeNull();
});
