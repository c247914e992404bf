/** @file What was called beside the plate and below it. */

class Panes {
  side = $state<"none" | "map" | "other" | "plan">("none");
  share = $state(0.5);
  strip = $state(false);
  /** The second picture beside the plate. */
  otherScanId = $state<string | null>(null);
}

export const panes = new Panes();
