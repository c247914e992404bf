/** @file Photographs made on the spot: what is asked of one, and those that were compared. */
import { api, told, type Schemas } from "../../api/client";
import { daybook } from "../../daybook/daybook.svelte";
import { plate } from "../../plate/plate.svelte";
import { send } from "../../things/uploads";

export type Photograph = Schemas["PhotographTold"];
export type Given = Schemas["PhotographGiven"];
export type Question = Schemas["AskedOfPhotograph"]["what"];

const BLANK: Omit<Given, "upload_id"> = { not_known: [], place: 1 };

class Photographs {
  /** What was sent in, and what it says of itself; nothing of it is kept yet. */
  sent = $state.raw<{ given: Given; told: Schemas["PhotographRead"] } | null>(null);
  #kept = $state.raw<{ id: string; list: Photograph[] } | null>(null);
  kept = $derived(this.#kept?.id === plate.id ? this.#kept.list : []);
  comparing = $derived(daybook.running.find(({ kind }) => kind === "photograph") ?? null);

  constructor() {
    daybook.onChange((changed) => {
      if (
        this.#kept &&
        (changed?.tables.some((one) => one === "notes" || one === "sources") ?? true)
      )
        void this.load();
    });
  }

  async load(): Promise<void> {
    const id = plate.id;
    if (!id) return;
    const list = await daybook.try(() =>
      told(api.GET("/api/plates/{plate_id}/photographs", { params: { path: { plate_id: id } } })),
    );
    if (list && id === plate.id) this.#kept = { id, list };
  }

  /** Send a photograph in, with marks by hand or without, and read what its camera wrote. */
  async give(files: File[]): Promise<null> {
    const given: Given = { ...BLANK, upload_id: await send(files) };
    this.sent = { given, told: await this.#ask(given) };
    return null;
  }

  /** Compare it, with what a person said of it. */
  async compare(said: Partial<Given>): Promise<boolean> {
    const { sent } = this;
    const id = plate.id;
    if (!sent || !id) return false;
    const given = { ...sent.given, ...said };
    const job = await daybook.act(async () => {
      const left = await this.#ask(given);
      this.sent = { given: sent.given, told: { ...left, asked: sent.told.asked } };
      return told(
        api.POST("/api/plates/{plate_id}/photographs", {
          params: { path: { plate_id: id } },
          body: given,
        }),
      );
    });
    if (!job) return false;
    const over = await daybook.follow(job);
    if (over.state !== "done") return false;
    this.sent = null;
    await this.load();
    return true;
  }

  drop(): void {
    this.sent = null;
  }

  /** Where one of a photograph's pictures or files can be had. */
  addressOf(source: string, name: string): string {
    const shown = plate.cover === null ? "" : "?uncover=true";
    return `/api/plates/${plate.id}/photographs/${source}/${name}${shown}`;
  }

  #ask(given: Given): Promise<Schemas["PhotographRead"]> {
    return told(
      api.POST("/api/plates/{plate_id}/photographs/ask", {
        params: { path: { plate_id: plate.id ?? "" } },
        body: given,
      }),
    );
  }
}

export const photographs = new Photographs();
