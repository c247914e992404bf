import { expect, test } from "vitest";

import { layNames } from "./names";

test("a name alone stands right of its sign", () => {
  expect(layNames([{ at: [100, 100], text: "chimney" }])).toEqual(["right"]);
});

test("of two signs side by side neither name covers a name or a sign", () => {
  const sides = layNames([
    { at: [100, 100], text: "chimney" },
    { at: [130, 102], text: "chimney" },
  ]);
  expect(sides).toEqual(["left", "right"]);
});

test("a name that fits nowhere is left out", () => {
  const crowd = Array.from({ length: 6 }, () => ({ at: [100, 100] as [number, number], text: "" }));
  const sides = layNames([
    ...crowd.map(({ at }) => ({ at, text: "a long name" })),
    { at: [100, 101], text: "a long name" },
  ]);
  expect(sides.filter((side) => side === null).length).toBeGreaterThan(0);
  expect(new Set(sides.filter(Boolean)).size).toBe(sides.filter(Boolean).length);
});
