/** @file Where things are written or said: the sources of the daybook. */
import { listThings, type Thing } from "../api/things";
import { daybook } from "../daybook/daybook.svelte";

class Sources {
  all = $state.raw<Thing<"sources">[]>([]);
  #loaded = false;

  constructor() {
    daybook.onChange((changed) => {
      if (this.#loaded && (changed?.tables.includes("sources") ?? true)) void this.load();
    });
  }

  async load(): Promise<void> {
    this.#loaded = true;
    const page = await daybook.try(() => listThings("sources", { limit: 1000 }));
    if (page) this.all = page.items.toSorted((a, b) => a.citation.localeCompare(b.citation));
  }

  /** How a source is cited; nothing where none is named. */
  cited(id: string | null): string {
    return this.all.find((one) => one.id === id)?.citation ?? "";
  }
}

export const sources = new Sources();
