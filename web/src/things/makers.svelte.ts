/** @file Who made plates: photographers and firms of the daybook. */
import { listThings, type Thing } from "../api/things";
import { daybook } from "../daybook/daybook.svelte";

class Makers {
  all = $state.raw<Thing<"makers">[]>([]);
  #loaded = false;

  constructor() {
    daybook.onChange((changed) => {
      if (this.#loaded && (changed?.tables.includes("makers") ?? true)) void this.load();
    });
  }

  async load(): Promise<void> {
    this.#loaded = true;
    const page = await daybook.try(() => listThings("makers", { limit: 1000 }));
    if (page) this.all = page.items.toSorted((a, b) => a.name.localeCompare(b.name));
  }
}

export const makers = new Makers();
