/** @file The panorama that the open plate belongs to, and what is seen on two of its plates. */
import { untrack } from "svelte";

import { anew } from "../api/anew";
import { api, told, type Schemas } from "../api/client";
import { addThing, setAside, type NewThing } from "../api/things";
import { daybook } from "../daybook/daybook.svelte";
import { words } from "../words/en";
import type { Point } from "./lines";
import { plate } from "./plate.svelte";

export type Member = Schemas["PanoramaPlate"];

/** One thing as the open plate and another have it. */
export interface SeenTwice {
  id: string;
  number: number;
  here: Point;
  there: Point;
  beside: string;
  byMachine: boolean;
  counts: boolean;
}

const BEARING = new Set(["evidence", "plates", "scans", "restrictions", "terrain_layers"]);

class Panorama {
  told = $state.raw<Schemas["PanoramaTold"] | null>(null);
  #of: string | null = null;

  others = $derived<Member[]>(this.told?.plates.filter((one) => one.plate_id !== plate.id) ?? []);
  /** What the open plate shows of others, numbered along them. */
  seen = $derived<SeenTwice[]>(
    (this.told?.ties ?? [])
      .filter((one) => one.plate_id === plate.id || one.beside_id === plate.id)
      .map((one, i) => {
        const own = one.plate_id === plate.id;
        return {
          id: one.evidence_id,
          number: i + 1,
          here: own ? one.first_px : one.second_px,
          there: own ? one.second_px : one.first_px,
          beside: own ? one.beside_id : one.plate_id,
          byMachine: one.by_machine,
          counts: one.counts,
        };
      }),
  );

  constructor() {
    daybook.onChange((changed) => {
      const bears = changed?.tables.some((name) => BEARING.has(name)) ?? true;
      if (this.told && bears) void this.load();
    });
  }

  /** Know the open plate's panorama while the component that calls this is on the page. */
  during(): void {
    $effect(() => {
      const name = plate.whole?.plate.panorama ?? null;
      const id = plate.id;
      untrack(() => {
        if (!name || id !== this.#of) this.told = null;
        this.#of = id;
        if (name) void this.load();
      });
    });
  }

  readonly load = anew(() => this.#load());

  async #load(): Promise<void> {
    const id = plate.id;
    if (!id) return;
    const found = await daybook.try(() =>
      told(api.GET("/api/plates/{plate_id}/panorama", { params: { path: { plate_id: id } } })),
    );
    if (found !== undefined && id === plate.id) this.told = found;
  }

  /** Keep that one thing is seen here and, on another plate, there. */
  async join(here: Point, there: Point, beside: Member): Promise<void> {
    const [id, look] = [plate.id, plate.look];
    if (!id || !look) return;
    const content = {
      beside: beside.plate_id,
      scan: beside.scan_id,
      first_px: here,
      second_px: there,
    };
    const item = { plate_id: id, scan_id: look.scan_id, kind: "tie", content };
    await daybook.act(() => addThing("evidence", item as unknown as NewThing<"evidence">));
    await this.load();
  }

  async setAside(id: string): Promise<void> {
    await daybook.act(() => setAside("evidence", id, words.why.setAside));
    await this.load();
  }

  /** Let the machine look for what shows on two plates. */
  async match(): Promise<void> {
    const id = plate.id;
    if (!id) return;
    const job = await daybook.act(() =>
      told(
        api.POST("/api/plates/{plate_id}/panorama/matches", {
          params: { path: { plate_id: id } },
        }),
      ),
    );
    if (!job) return;
    const done = await daybook.follow(job);
    daybook.said = done.result?.notes.join(" ") ?? "";
    await this.load();
  }
}

export const panorama = new Panorama();
