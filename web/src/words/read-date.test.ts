import { expect, test } from "vitest";

import { readDate } from "./read-date";

// The forms on the right are those of EDTF, levels 0 and 1 (Library of Congress).
test.each([
  ["1880", "1880"],
  ["1880~", "1880~"],
  ["188x", "188X"],
  ["c. 1880", "1880~"],
  ["about 1880", "1880~"],
  ["summer 1879", "1879-22"],
  ["the autumn of 1879", "1879-23"],
  ["1880s", "188X"],
  ["May 1880", "1880-05"],
  ["12 May 1880", "1880-05-12"],
  ["May 12, 1880", "1880-05-12"],
  ["12th of Sept 1880", "1880-09-12"],
  ["before 1882", "../1882"],
  ["after March 1882", "1882-03/.."],
  ["between 1870 and 1875", "1870/1875"],
  ["1870–1875", "1870/1875"],
  ["c. 1870 to 1875", "1870~/1875~"],
  ["3 May 1871 (O.S.)", "1871-05-03 O.S."],
  ["1871-05-03 Julian", "1871-05-03 O.S."],
  ["3 May 1871 new style", "1871-05-03 N.S."],
  ["late 1870s", "1877/1879"],
  ["1 to 9 June 1877", "1877-06-01/1877-06-09"],
  ["May to June 1877", "1877-05/1877-06"],
  ["the mid-1870s", "1874/1876"],
])("%s is kept as %s", (typed, kept) => {
  expect(readDate(typed)).toBe(kept);
});

test.each(["before the fire", "once", "45 May 1880", "Juvember 1880"])("%s is no date", (typed) => {
  expect(readDate(typed)).toBeNull();
});
