/** @file When the open plate was exposed, as the server last told it; the map draws its sun too. */
import { api, told, type Schemas } from "../../api/client";
import { daybook } from "../../daybook/daybook.svelte";
import { plate } from "../../plate/plate.svelte";

export type Sun = Schemas["SunTold"];

class DatedPlate {
  #answer = $state.raw<{ id: string; told: Schemas["DateTold"] } | null>(null);
  /** A zone whose time is told beside local mean time [h ahead of universal time]. */
  zone = $derived(daybook.state?.settings.zone_hours ?? null);
  found = $derived(this.#answer?.id === plate.id ? this.#answer.told : null);
  sun = $derived<Sun | null>(this.found?.sun ?? null);

  #asking = false;
  #again = false;

  /** Ask anew; whatever changes on the plate may date it. One question is open at a time. */
  async ask(): Promise<void> {
    if (this.#asking) {
      this.#again = true;
      return;
    }
    this.#asking = true;
    do {
      this.#again = false;
      await this.#ask();
    } while (this.#again);
    this.#asking = false;
  }

  async #ask(): Promise<void> {
    const { id, whole } = plate;
    const { zone } = this;
    if (!id || !whole) return;
    await daybook.try(async () => {
      const latest = await told(
        api.GET("/api/plates/{plate_id}/when", {
          params: {
            path: { plate_id: id },
            query: zone === null ? {} : { zone_hours: zone },
          },
        }),
      );
      if (whole === plate.whole && zone === this.zone) this.#answer = { id, told: latest };
    });
  }
}

export const dated = new DatedPlate();
