import { expect, test } from "vitest";

import { boundsOf } from "./edtf-years";

// The forms are those of ISO 8601-2, Level 1, as the EDTF specification lists them.
test("a year lasts a year, a decade ten", () => {
  expect(boundsOf("1880", "exposed")).toEqual({ from: 1880, to: 1881, soft: false });
  expect(boundsOf("188X", "exposed")).toEqual({ from: 1880, to: 1890, soft: false });
});

test("about and perhaps are soft", () => {
  expect(boundsOf("1880~", null)?.soft).toBe(true);
  expect(boundsOf("1875?/1882", null)).toEqual({ from: 1875, to: 1883, soft: true });
});

test("bounds are open on their other side, and so are open intervals", () => {
  expect(boundsOf("1880", "not before")).toEqual({ from: 1880, to: null, soft: false });
  expect(boundsOf("1880", "not after")).toEqual({ from: null, to: 1881, soft: false });
  expect(boundsOf("../1880", null)?.from).toBeNull();
});

test("what was dated says on which side the exposure lies, if it says anything", () => {
  expect(boundsOf("1873", "shown, built")).toEqual({ from: 1873, to: null, soft: false });
  expect(boundsOf("1873", "missing, built")).toEqual({ from: null, to: 1874, soft: false });
  expect(boundsOf("1877-06", "published")?.from).toBeNull();
  expect(boundsOf("1873", "shown, first mentioned")).toBeNull();
});

test("a month is a twelfth, and other writing is not guessed at", () => {
  expect(boundsOf("1880-07", null)?.from).toBeCloseTo(1880.5, 9);
  expect(boundsOf("summer of 1880", null)).toBeNull();
});
