import { describe, expect, it } from "vitest";
import { curveOf, monthsOf } from "./curve";

describe("the curve of a date", () => {
  it("draws from the first to the last month that holds anything", () => {
    const curve = curveOf("1870-01", [0, 0, 0.5, 0.25, 0.25, 0, 0]);
    expect(curve?.steps[0]?.month).toBe(12 * 1870 + 2);
    expect(curve?.steps.map(({ share }) => share)).toEqual([0.5, 0.25, 0.25]);
    expect(curve?.most).toBe(0.5);
  });

  it("writes few years below a long span and each below a short one", () => {
    const long = curveOf(
      "1839-01",
      Array.from({ length: 1200 }, () => 1 / 1200),
    );
    expect(long?.years.length).toBeLessThanOrEqual(9);
    const short = curveOf(
      "1870-01",
      Array.from({ length: 24 }, () => 1 / 24),
    );
    expect(short?.years).toContain(1871);
  });

  it("draws nothing where no month is possible", () => {
    expect(curveOf("1870-01", [0, 0])).toBeNull();
  });

  it("ends a run after its last month", () => {
    expect(monthsOf("1873-11/1877-06")).toEqual({ from: 12 * 1873 + 10, to: 12 * 1877 + 6 });
    expect(monthsOf("1875-03")).toEqual({ from: 12 * 1875 + 2, to: 12 * 1875 + 3 });
  });
});
