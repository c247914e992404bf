import { expect, test } from "vitest";

import { readingLine, unitOf } from "./readings";

test("a gap is told with its two things, in degrees", () => {
  const gap = { what: "gap", thing: "church", other: "post", value: -3.2, sd: 0.1, words: "" };
  expect(readingLine(gap)).toBe("church – post, -3.2 °, ± 0.1 °");
});

test("a place is told latitude first, as phones show it", () => {
  const stood = {
    what: "stood",
    thing: "",
    other: "",
    words: "",
    lon_deg: 8.5,
    lat_deg: 46.1,
    sd: 5,
  };
  expect(readingLine(stood)).toBe("46.100000, 8.500000, ± 5 m");
  expect(unitOf("tape")).toBe("m");
});
