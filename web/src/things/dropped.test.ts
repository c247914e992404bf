import { expect, test } from "vitest";

import { kindOf } from "./dropped";

test("a shapefile is features, whatever lies beside it", () => {
  expect(kindOf(["farms.dbf", "farms.prj", "FARMS.SHP"])).toBe("features");
  expect(kindOf(["walk.gpx"])).toBe("features");
});

test("a raster is a raster, and words are neither", () => {
  expect(kindOf(["survey.1871.tif"])).toBe("raster");
  expect(kindOf(["letter.docx"])).toBe("none");
  expect(kindOf([])).toBe("none");
});
