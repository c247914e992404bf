/** @file What was traced from plans, as the plate shows it by its newest answer. */
import { api, told, type Schemas } from "../api/client";
import { daybook } from "../daybook/daybook.svelte";

const TABLES = ["plans", "features", "fixes", "terrain_layers"];

class TracedOnPlate {
  shown = $state(true);
  told = $state.raw<Schemas["OnPlate"] | null>(null);
  /** The plate it was asked for; it is not asked before a plan stands beside it. */
  #of: string | null = null;

  things = $derived(this.shown ? (this.told?.things ?? []) : []);

  constructor() {
    daybook.onChange((changed) => {
      if (this.#of && (changed?.tables.some((one) => TABLES.includes(one)) ?? true))
        void this.#ask();
    });
  }

  /** Ask for a plate's, unless they are there. */
  of(plateId: string | null): void {
    if (this.#of === plateId) return;
    this.#of = plateId;
    this.told = null;
    if (plateId) void this.#ask();
  }

  /** Those of another plate are not this one's. */
  leave(plateId: string | null): void {
    if (this.#of !== plateId) this.of(null);
  }

  async #ask(): Promise<void> {
    const plate_id = this.#of;
    if (!plate_id) return;
    const now = await daybook.try(() =>
      told(api.GET("/api/plates/{plate_id}/traced_from_plans", { params: { path: { plate_id } } })),
    );
    if (now && plate_id === this.#of) this.told = now;
  }
}

export const tracedOnPlate = new TracedOnPlate();
