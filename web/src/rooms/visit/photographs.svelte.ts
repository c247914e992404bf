/** @file Photographs made on the spot: what is asked of one, and those that were compared. */
import { anew } from "../../api/anew";
import { api, told, type Schemas } from "../../api/client";
import { daybook } from "../../daybook/daybook.svelte";
import type { Point } from "../../plate/lines";
import { plate } from "../../plate/plate.svelte";
import type { PlateTool } from "../../plate/viewer";
import { send } from "../../things/uploads";
import { fieldSheet } from "./sheet.svelte";

export type Photograph = Schemas["PhotographTold"];
export type Given = Schemas["PhotographGiven"];
export type Question = Schemas["AskedOfPhotograph"]["what"];

/** One thing marked by a person on both pictures; half of it while it is being marked. */
export interface Marked {
  plate: Point | null;
  photo: Point | null;
  distance: string;
}
/** A mark is set to about one pixel of the screen, and no better than this on the picture [px]. */
const LEAST_SD_PX = 1.5;

const BLANK: Omit<Given, "upload_id"> = { not_known: [], place: 1, marks: [], marks_sd_px: 2 };

class Photographs {
  /** What was sent in, and what it says of itself; nothing of it is kept yet. */
  sent = $state.raw<{ given: Given; told: Schemas["PhotographRead"] } | null>(null);
  /** Whether things are being marked on both pictures, and those that are. */
  marking = $state(false);
  marks = $state<Marked[]>([]);
  #coarsest_px = LEAST_SD_PX;
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

  readonly load = anew(() => this.#load());

  async #load(): Promise<void> {
    const id = plate.id;
    if (!id) return;
    const list = await daybook.try(() =>
      told(api.GET("/api/plates/{plate_id}/photographs", { params: { path: { plate_id: id } } })),
    );
    if (list && id === plate.id) this.#kept = { id, list };
  }

  /** At which place of the answer it was made: the one that the sheet is of. */
  get place(): number {
    return Math.max(1, fieldSheet.place);
  }

  /** The hand's tool on the plate while things are marked on both. */
  get tool(): PlateTool | null {
    if (!this.marking || !this.sent) return null;
    return { kind: "points", cursor: "point", point: (at) => this.mark("plate", at) };
  }

  /** Mark a thing on one of the pictures: it completes the one begun on the other. */
  mark(on: "plate" | "photo", at: Point, px_per_screen = 1): void {
    if (on === "photo") this.#coarsest_px = Math.max(this.#coarsest_px, px_per_screen);
    const begun = this.marks.at(-1);
    if (begun && !(begun.plate && begun.photo)) begun[on] = at;
    else this.marks.push({ plate: null, photo: null, distance: "", [on]: at });
  }

  /** Send a photograph in, with marks by hand or without, and read what its camera wrote. */
  async give(files: File[]): Promise<null> {
    const given: Given = { ...BLANK, place: this.place, upload_id: await send(files) };
    this.sent = { given, told: await this.#ask(given) };
    return null;
  }

  /** Compare it, with what a person said of it. */
  async compare(said: Partial<Given>): Promise<boolean> {
    const { sent } = this;
    const id = plate.id;
    if (!sent || !id) return false;
    const given = { ...sent.given, ...said, ...this.#marked(), place: this.place };
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
    this.drop();
    await this.load();
    return true;
  }

  drop(): void {
    this.sent = null;
    this.marking = false;
    this.marks = [];
    this.#coarsest_px = LEAST_SD_PX;
  }

  #marked(): Pick<Given, "marks" | "marks_sd_px"> {
    const marks = this.marks.flatMap(({ plate: plate_px, photo: photo_px, distance }) => {
      const metres = Number(distance.replace(",", "."));
      const distance_m = distance.trim() && metres > 0 ? metres : null;
      return plate_px && photo_px ? [{ plate_px, photo_px, distance_m }] : [];
    });
    return { marks, marks_sd_px: Math.min(200, this.#coarsest_px) };
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
