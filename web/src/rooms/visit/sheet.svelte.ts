/** @file The field sheet of the open plate, as the server last told it. */
import { api, told, type Schemas } from "../../api/client";
import { daybook } from "../../daybook/daybook.svelte";
import { plate } from "../../plate/plate.svelte";

export type Sheet = Schemas["SheetTold"];

/** What a sheet is asked for, besides the plate. */
export interface Asked {
  place: number;
  day: string;
  light: string;
}

class FieldSheet {
  place = $state(0);
  day = $state("");
  light = $state("");
  asking = $state(false);
  #answer = $state.raw<{ id: string; told: Sheet } | null>(null);
  told = $derived(this.#answer?.id === plate.id ? this.#answer.told : null);
  #asked = 0;

  /** Ask anew: another answer, another day, other light. */
  async ask(): Promise<void> {
    const { id, whole } = plate;
    if (!id || !whole?.fixes.length) return;
    const asked = ++this.#asked;
    this.asking = true;
    await daybook.try(async () => {
      const latest = await told(
        api.GET("/api/plates/{plate_id}/field_sheet", {
          params: { path: { plate_id: id }, query: this.query },
        }),
      );
      if (asked === this.#asked) this.#answer = { id, told: latest };
    });
    if (asked === this.#asked) this.asking = false;
  }

  get query(): { place: number; day?: string; light?: string } {
    return {
      place: this.place,
      ...(this.day ? { day: this.day } : {}),
      ...(this.light.trim() ? { light: this.light.trim() } : {}),
    };
  }

  /** Where one of the sheet's files can be had. */
  addressOf(name: string): string {
    const asked = new URLSearchParams(
      Object.entries(this.query).map(([key, value]) => [key, String(value)]),
    );
    return `/api/plates/${plate.id}/field_sheet/${name}?${asked}`;
  }
}

export const fieldSheet = new FieldSheet();
