/** @file Who made plates: photographers and firms of the daybook. */
import { Listed } from "./listed.svelte";

export const makers = new Listed("makers", ({ name }) => name);
