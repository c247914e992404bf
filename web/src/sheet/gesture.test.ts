import { expect, test } from "vitest";

import { isClick, nudgeOf } from "./gesture";

const key = (key: string, held: Partial<{ shiftKey: boolean; altKey: boolean }> = {}) => ({
  key,
  shiftKey: false,
  altKey: false,
  ...held,
});

test("an arrow moves one pixel, ten with Shift, a tenth with Alt", () => {
  expect(nudgeOf(key("ArrowRight"))).toEqual([1, 0]);
  expect(nudgeOf(key("ArrowUp", { shiftKey: true }))).toEqual([0, -10]);
  expect(nudgeOf(key("ArrowLeft", { altKey: true }))).toEqual([-0.1, 0]);
});

test("another key moves nothing", () => {
  expect(nudgeOf(key("a"))).toBeNull();
});

test("a press that hardly strays is a click", () => {
  expect(isClick([10, 10], [12, 12])).toBe(true);
  expect(isClick([10, 10], [15, 10])).toBe(false);
});
