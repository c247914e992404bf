import { expect, test } from "vitest";

import { allKept, asOneWrite, keptFirst, writes } from "./keeping";

/** A write that ends when it is told to. */
function begun(): { end: () => void; over: Promise<void> } {
  let end = (): void => undefined;
  const over = asOneWrite(() => new Promise<void>((resolve) => (end = resolve)));
  return { end: () => end(), over };
}

test("what depends on what was written waits until all of it is", async () => {
  const [one, other] = [begun(), begun()];
  let went = false;
  const depends = allKept().then(() => (went = true));
  one.end();
  await one.over;
  expect(went).toBe(false);
  other.end();
  await depends;
  expect(writes.open).toBe(0);
});

test("what waits to be saved is saved first, and what was changed on meanwhile too", async () => {
  const typed = ["3", "30"];
  const kept: string[] = [];
  const end = keptFirst(() => {
    const now = typed.shift();
    return now ? asOneWrite(async () => void kept.push(now)) : undefined;
  });
  await allKept();
  end();
  expect(kept).toEqual(["3", "30"]);
});

test("nothing goes by what could not be kept", async () => {
  const end = keptFirst(() => Promise.reject(new Error("no length")));
  await expect(allKept()).rejects.toThrow("no length");
  end();
  await allKept();
});

test("a write that is refused is over all the same", async () => {
  await expect(asOneWrite(() => Promise.reject(new Error("changed")))).rejects.toThrow();
  expect(writes.open).toBe(0);
});
