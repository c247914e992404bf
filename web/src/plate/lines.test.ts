import { expect, test } from "vitest";

import { columnsOf, draw, erase, openGap, replace, shareTraced, thinned, type Run } from "./lines";

const level = (from: number, to: number, y = 10): Run => {
  const x_px = Array.from({ length: to - from }, (_, i) => from + i + 0.5);
  return { x_px, y_px: x_px.map(() => y), sd_px: x_px.map(() => 1) };
};

test("a gap divides a line in two and takes what lies within it", () => {
  const [left, right, ...more] = openGap([level(0, 100)], 60, 40);
  expect(more).toEqual([]);
  expect(left?.x_px.at(-1)).toBe(39.5);
  expect(right?.x_px[0]).toBe(60.5);
});

test("a gap at the end shortens the line and leaves one piece", () => {
  expect(openGap([level(0, 10)], 7, 20)).toHaveLength(1);
});

test("the eraser takes only what it touches", () => {
  const runs = erase([level(0, 100, 10), level(0, 100, 50)], [[50, 10]], 5);
  expect(runs).toHaveLength(3);
  expect(runs[2]?.x_px).toHaveLength(100);
});

test("a stroke has one sample a column, at its centre, wherever it was drawn", () => {
  expect(
    columnsOf([
      [3, 0],
      [0, 3],
    ]),
  ).toEqual([
    [0.5, 2.5],
    [1.5, 1.5],
    [2.5, 0.5],
  ]);
});

test("a stroke replaces what lay between its ends and joins both sides", () => {
  const runs = draw(
    [level(0, 100)],
    [
      [40, 10],
      [50, 30],
      [60, 10],
    ],
  );
  expect(runs).toHaveLength(1);
  expect(runs[0]?.x_px).toHaveLength(100);
  expect(runs[0]?.y_px[49]).toBeCloseTo(29, 9);
  expect(runs[0]?.y_px[20]).toBe(10);
  expect(runs[0]?.sd_px?.[20]).toBe(1);
});

test("a stroke within a gap does not close it", () => {
  const open = openGap([level(0, 100)], 30, 70);
  const runs = draw(open, [
    [45, 10],
    [55, 10],
  ]);
  expect(runs).toHaveLength(3);
});

test("a stroke across a gap closes it", () => {
  const open = openGap([level(0, 100)], 30, 70);
  const runs = draw(open, [
    [25, 10],
    [75, 12],
  ]);
  expect(runs).toHaveLength(1);
});

test("two pieces that lie close and were left apart stay apart", () => {
  const apart = [level(0, 20), level(21, 40), level(60, 80)];
  expect(replace(apart, level(65, 70, 3))).toHaveLength(3);
});

test("the share traced counts pieces and not gaps", () => {
  expect(shareTraced([level(0, 51), level(150, 201)], 200)).toBe(0.5);
});

test("a straight line thins to its ends, a corner stays", () => {
  const straight = columnsOf([
    [0, 0],
    [50, 0],
  ]);
  expect(thinned(straight, 0.1)).toHaveLength(2);
  const corner = columnsOf([
    [0, 0],
    [50, 0],
    [100, 50],
  ]);
  expect(thinned(corner, 0.8).length).toBe(3);
});
