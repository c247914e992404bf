import { expect, test } from "vitest";

import type { Schemas } from "../api/client";
import { standing } from "./standing";

const FIX = { removed: false, made: "1", verdict: "located", near_enough_m: 125 };

function whole(more: object): Schemas["PlateWhole"] {
  const nothing = { look: {}, marks: [], details: [], evidence: [], decisions: [], fixes: [] };
  return { ...nothing, ready: { missing: [] }, ...more } as unknown as Schemas["PlateWhole"];
}

test("a plate that nobody looked at has nothing read off it", () => {
  expect(standing(whole({}), [], 600)).toBe("Nothing read off it yet; not looked for yet.");
});

test("with an answer that read the skyline itself, that is said", () => {
  expect(standing(whole({ fixes: [FIX] }), [], 600)).toBe(
    "Skyline read by the run alone; located to 125 m.",
  );
});
