/** @file What was last brought to the map. */

class Brought {
  /** What became of it, in words. */
  told = $state("");
  /** Rasters of which nobody said yet whether they are terrain or a plan. */
  asked = $state.raw<File[]>([]);
}

export const brought = new Brought();
