import { expect, test } from "vitest";

import { fieldOf, modernLens_mm } from "./lens";

test("a lens as far as half the width sees a right angle", () => {
  expect(fieldOf(2000, 1000, 0)).toBeCloseTo(90, 9);
});

test("a cross lets it see less wide, since one side goes far out", () => {
  expect(fieldOf(2000, 1000, 500)).toBeLessThan(90);
});

test("a lens as far as the width is a modern one of 36 mm", () => {
  expect(modernLens_mm(2000, 2000)).toBe(36);
});
