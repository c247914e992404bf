/** @file All things of a kind, in order of what they are called, kept up with the daybook. */
import { anew } from "../api/anew";
import { listThings, type Table, type Thing } from "../api/things";
import { daybook } from "../daybook/daybook.svelte";

export class Listed<T extends Table> {
  all = $state.raw<Thing<T>[]>([]);
  #loaded = false;
  readonly #table: T;
  readonly #called: (one: Thing<T>) => string;

  constructor(table: T, called: (one: Thing<T>) => string) {
    this.#table = table;
    this.#called = called;
    daybook.onChange((changed) => {
      if (this.#loaded && (changed?.tables.includes(table) ?? true)) void this.load();
    });
  }

  readonly load = anew(() => this.#load());

  async #load(): Promise<void> {
    this.#loaded = true;
    const page = await daybook.try(() => listThings(this.#table, { limit: 1000 }));
    if (page)
      this.all = page.items.toSorted((a, b) => this.#called(a).localeCompare(this.#called(b)));
  }
}
