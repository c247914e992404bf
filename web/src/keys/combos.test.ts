import { expect, test } from "vitest";

import { arranged, comboOf, isSingle, partsOf } from "./combos";

const press = (key: string, held = {}) =>
  comboOf({ key, ctrlKey: false, metaKey: false, shiftKey: false, altKey: false, ...held });

test("Control and Command are one", () => {
  expect(press("z", { ctrlKey: true })).toBe("Mod+z");
  expect(press("z", { metaKey: true })).toBe("Mod+z");
});

test("a sign that needs Shift is the sign alone", () => {
  expect(press("?", { shiftKey: true })).toBe("?");
  expect(press("Z", { ctrlKey: true, shiftKey: true })).toBe("Mod+Shift+z");
});

test("plus is a key as well as what joins keys", () => {
  expect(partsOf("+")).toEqual(["+"]);
  expect(partsOf("Mod+Shift+z")).toEqual(["Mod", "Shift", "z"]);
});

test("groups without keys are left out", () => {
  expect(arranged([{ keys: "a", group: "looking", words: "" }]).map(({ group }) => group)).toEqual([
    "looking",
  ]);
});

test("single characters can be told from keys that are held together, and from named ones", () => {
  expect(["r", "8", "?"].every(isSingle)).toBe(true);
  expect(["Mod+z", "Escape", "ArrowLeft", "Alt+x"].some(isSingle)).toBe(false);
});
