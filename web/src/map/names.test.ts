import { expect, test } from "vitest";

import { layNames, type Box } from "./names";

const sidesOf = (...laid: Parameters<typeof layNames>): (string | undefined)[] =>
  layNames(...laid).map((place) => place?.side);

test("a name alone stands right of its sign", () => {
  expect(sidesOf([{ at: [100, 100], text: "chimney" }])).toEqual(["right"]);
});

test("of two signs side by side neither name covers a name or a sign", () => {
  const sides = sidesOf([
    { at: [100, 100], text: "chimney" },
    { at: [130, 102], text: "chimney" },
  ]);
  expect(sides).toEqual(["left", "right"]);
});

test("a name that fits nowhere is left out", () => {
  const crowd = Array.from({ length: 6 }, () => ({ at: [100, 100] as [number, number], text: "" }));
  const sides = sidesOf([
    ...crowd.map(({ at }) => ({ at, text: "a long name" })),
    { at: [100, 101], text: "a long name" },
  ]);
  const laid = sides.filter((side) => side !== undefined);
  expect(laid.length).toBeLessThan(sides.length);
  expect(new Set(laid).size).toBe(laid.length);
});

test("names in a region stand outside it, on lines of their own, at the nearer edge", () => {
  const region: Box = [50, 50, 150, 250];
  const places = layNames(
    [
      { at: [120, 200], text: "left hearth" },
      { at: [125, 203], text: "right hearth" },
    ],
    [region],
  );
  const began = places.map((place, i) => [
    (i === 0 ? 120 : 125) + (place?.off[0] ?? 0),
    (i === 0 ? 200 : 203) + (place?.off[1] ?? 0),
  ]);
  expect(places.every((place) => place?.far && place.side === "right")).toBe(true);
  expect(began.map(([x]) => x)).toEqual([159, 159]);
  expect(Math.abs((began[0]?.[1] ?? 0) - (began[1]?.[1] ?? 0))).toBeGreaterThanOrEqual(16);
});

test("a region's name beside another sign stays beside that sign", () => {
  expect(layNames([{ at: [300, 100], text: "mill" }], [[50, 50, 150, 250]])[0]?.far).toBe(false);
});

test("no name is cut by the edge of the map", () => {
  const region: Box = [250, 50, 350, 250];
  const hearth = { at: [340, 200] as [number, number], text: "hearth of the left cottage" };
  expect(layNames([hearth], [region])[0]?.side).toBe("right");
  expect(layNames([hearth], [region], [400, 300])[0]?.side).toBe("left");
});
