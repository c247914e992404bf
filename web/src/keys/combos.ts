/** @file Names of key presses, and their order on the help page. */

export const GROUPS = ["everywhere", "sheet", "beside", "looking", "where", "plates"] as const;
export type Group = (typeof GROUPS)[number];

export interface Bound {
  /** "Mod+z": Mod is Control, or Command on a Mac. */
  keys: string;
  group: Group;
  words: string;
  /** Left out where the key is taken by the thing itself, and only told of here. */
  act?: () => unknown;
}

type Press = Pick<KeyboardEvent, "key" | "ctrlKey" | "metaKey" | "shiftKey" | "altKey">;

/** Name a press as bindings do: letters small, Shift said only with Mod. */
export function comboOf(event: Press): string {
  const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  const mod = event.ctrlKey || event.metaKey;
  const parts = [];
  if (mod) parts.push("Mod");
  if (event.altKey) parts.push("Alt");
  if (event.shiftKey && (mod || event.key.length > 1)) parts.push("Shift");
  return [...parts, key].join("+");
}

/** Take a combination apart into its keys; plus is a key too. */
export function partsOf(combo: string): string[] {
  return combo === "+" ? ["+"] : combo.split("+");
}

/** One character without Control, Command or Alt: speech typed by voice presses these. */
export function isSingle(combo: string): boolean {
  return [...combo].length === 1;
}

export function arranged(bound: Bound[]): { group: Group; bound: Bound[] }[] {
  return GROUPS.map((group) => ({
    group,
    bound: bound.filter((one) => one.group === group),
  })).filter(({ bound: some }) => some.length > 0);
}
