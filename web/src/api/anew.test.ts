import { expect, test } from "vitest";

import { anew } from "./anew";

test("what was asked for during a reading is read after it, and once", async () => {
  const answers: (() => void)[] = [];
  let read = 0;
  const load = anew(() => {
    read++;
    return new Promise((answer) => answers.push(answer));
  });
  const first = load();
  const second = load();
  const third = load();
  expect(read).toBe(1);
  answers.shift()?.();
  await Promise.resolve();
  await new Promise((soon) => setTimeout(soon));
  expect(read).toBe(2);
  answers.shift()?.();
  await Promise.all([first, second, third]);
  expect(read).toBe(2);
});

test("after a reading that failed it is read again when asked", async () => {
  let read = 0;
  const load = anew(async () => {
    read++;
    await Promise.resolve();
    if (read === 1) throw new Error("gone");
  });
  await expect(load()).rejects.toThrow("gone");
  await load();
  expect(read).toBe(2);
});
