import { expect, test } from "vitest";

import { mirrored } from "./scan-tiles";

test("the mirror of a tile at the left edge is cut from the right edge", () => {
  expect(mirrored("/iiif/3/ab/0,256,256,200/256,200/0/default.jpg", 1000)).toBe(
    "/iiif/3/ab/744,256,256,200/256,200/!0/default.jpg",
  );
});

test("an edge tile of another width mirrors to the very edge", () => {
  expect(mirrored("/iiif/3/ab/768,0,232,256/232,256/0/default.jpg", 1000)).toBe(
    "/iiif/3/ab/0,0,232,256/232,256/!0/default.jpg",
  );
});

test("a whole picture in one tile is mirrored as a whole", () => {
  expect(mirrored("/iiif/3/ab/full/200,150/0/default.jpg", 400)).toBe(
    "/iiif/3/ab/full/200,150/!0/default.jpg",
  );
});
