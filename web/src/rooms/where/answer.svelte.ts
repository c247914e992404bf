/** @file The answer that is looked at: one fix of the open plate, with its map. */
import { untrack } from "svelte";

import { api, told, type Schemas } from "../../api/client";
import { daybook } from "../../daybook/daybook.svelte";
import { ground, type Metres } from "../../map/ground.svelte";
import type { Camera } from "../../map/stand.svelte";
import { panorama } from "../../plate/panorama.svelte";
import { plate } from "../../plate/plate.svelte";

export type FixWhole = Schemas["FixWhole"];

/** What a contribution of them is called by the server. */
const RIDGE_LINES = "ridge lines";

class Answer {
  fixId = $state<string | null>(null);
  whole = $state.raw<FixWhole | null>(null);
  map = $state.raw<Schemas["FixMap"] | null>(null);
  /** What changed since that answer, in sentences. */
  changed = $state.raw<string[]>([]);
  /** Items switched off for the next run. */
  without = $state<string[]>([]);
  /** Ridge lines that the run finds by itself are no items, and are switched off apart. */
  noRidgeLines = $state(false);
  /** Whether the next run is of the whole panorama, and with a lens for each plate. */
  together = $state(true);
  eachOwnLens = $state(false);
  /** What a run lacks: of all plates together, or of this one. */
  missing = $derived((this.asOne ? panorama.told?.missing : plate.whole?.ready.missing) ?? []);
  get asOne(): boolean {
    return this.together && (panorama.told?.plates.length ?? 0) > 1;
  }
  off = $derived(this.without.length + (this.noRidgeLines ? 1 : 0));
  /** The run that an answer without some items is set beside. */
  before = $state<string | null>(null);
  beside = $state.raw<{ sentences: string[]; map: Schemas["FixMap"] } | null>(null);

  #of: string | null = null;

  /** Look at the newest answer of the open plate, unless one of its is open. */
  async openNewest(): Promise<void> {
    if (plate.id !== this.#of) {
      this.#of = plate.id;
      this.fixId = null;
      this.whole = null;
      this.map = null;
      this.putAllBack();
      this.before = null;
      this.beside = null;
    }
    // A run keeps its answer before its pictures are drawn: it is opened once it is over.
    const begun = this.#searching?.begun;
    const newest = plate.fixes.find(({ made }) => !begun || made < begun)?.id;
    const there = plate.fixes.some(({ id }) => id === this.fixId);
    if (!there && plate.whole) {
      this.fixId = null;
      [this.whole, this.map, this.changed] = [null, null, []];
    }
    if (!this.fixId && newest) await this.open(newest);
    else await this.#hearChanges();
  }

  /** Ask what changed since; the answer itself, and where the camera is tried, stay. */
  async #hearChanges(): Promise<void> {
    const fixId = this.fixId;
    if (!fixId) return;
    const whole = await daybook.try(() =>
      told(api.GET("/api/fixes/{fix_id}", { params: { path: { fix_id: fixId } } })),
    );
    if (!whole || this.fixId !== fixId) return;
    this.changed = whole.changed;
    if (whole.screen && !this.whole?.screen) this.whole = whole;
  }

  /** The run of this plate that goes on. */
  get #searching(): Schemas["Job"] | undefined {
    return daybook.running.find(({ kind, plate_id }) => kind === "fix" && plate_id === plate.id);
  }
  searching = $derived(this.#searching !== undefined);

  /** Keep the newest answer open while the component that calls this is on the page. */
  during(): void {
    $effect(() => {
      void [plate.whole, this.searching];
      untrack(() => void this.openNewest());
    });
  }

  /** Set another run beside the one that is open, in words and on the map. */
  async setBeside(fixId: string | null): Promise<void> {
    this.before = fixId;
    this.beside = null;
    const now = this.fixId;
    if (!fixId || !now || fixId === now) return;
    await daybook.try(async () => {
      const query = ground.told ? { ground: ground.told.ground } : {};
      const [compared, map] = await Promise.all([
        told(api.GET("/api/fixes/compare", { params: { query: { a: fixId, b: now } } })),
        told(api.GET("/api/fixes/{fix_id}/map", { params: { path: { fix_id: fixId }, query } })),
      ]);
      if (this.before === fixId && this.fixId === now)
        this.beside = { sentences: compared.sentences, map };
    });
  }

  async open(fixId: string): Promise<void> {
    this.fixId = fixId;
    const path = { fix_id: fixId };
    await daybook.try(async () => {
      const whole = await told(api.GET("/api/fixes/{fix_id}", { params: { path } }));
      if (this.fixId !== fixId) return;
      this.whole = whole;
      this.changed = whole.changed;
    });
    await this.layMap();
  }

  async layMap(): Promise<void> {
    const fixId = this.fixId;
    if (!fixId) return;
    const query = ground.told ? { ground: ground.told.ground } : {};
    const map = await daybook.try(() =>
      told(api.GET("/api/fixes/{fix_id}/map", { params: { path: { fix_id: fixId }, query } })),
    );
    if (map && this.fixId === fixId) this.map = map;
  }

  /** Where the answer's camera stood and how it was held, if the map could tell. */
  get stand(): { at: Metres; camera: Camera } | null {
    const station = this.map?.station;
    const camera = this.whole?.answer.camera;
    if (!station || station.east_m === null || station.north_m === null || !camera) return null;
    const given = cameraOf(camera as unknown as Record<string, unknown>);
    return given ? { at: [station.east_m, station.north_m], camera: given } : null;
  }

  async run(asked: Partial<Schemas["RunAsked"]> = {}): Promise<void> {
    const id = plate.id;
    if (!id) return;
    const job = await daybook.act(() =>
      told(
        api.POST("/api/plates/{plate_id}/fixes", {
          params: { path: { plate_id: id } },
          body: {
            without: this.without,
            ridge_lines: !this.noRidgeLines,
            together: this.asOne,
            each_own_lens: this.asOne && this.eachOwnLens,
            ...asked,
          } as Schemas["RunAsked"],
        }),
      ),
    );
    if (!job) return;
    const done = await daybook.follow(job);
    await plate.reload();
    if (done.result?.fix_id) {
      this.before = this.fixId;
      await this.open(done.result.fix_id);
    }
  }

  /** Whether something counts in the next run, and can be switched at all. */
  counts(one: Schemas["Contribution"]): boolean | null {
    if (one.item_ids.length > 0) return !one.item_ids.every((id) => this.without.includes(id));
    return one.name === RIDGE_LINES ? !this.noRidgeLines : null;
  }

  putAllBack(): void {
    this.without = [];
    this.noRidgeLines = false;
  }

  switch({ item_ids: itemIds }: Schemas["Contribution"]): void {
    if (itemIds.length === 0) {
      this.noRidgeLines = !this.noRidgeLines;
      return;
    }
    const off = itemIds.every((id) => this.without.includes(id));
    this.without = off
      ? this.without.filter((id) => !itemIds.includes(id))
      : [...new Set([...this.without, ...itemIds])];
  }
}

/** Read a camera out of a published answer. */
export function cameraOf(camera: Record<string, unknown>): Camera | null {
  const number = (key: string, or = 0): number => {
    const value = camera[key];
    return typeof value === "number" ? value : or;
  };
  const distance = number("principal_distance_px", NaN);
  if (!Number.isFinite(distance)) return null;
  return {
    bearing_deg: number("bearing_deg"),
    tilt_deg: number("tilt_deg"),
    roll_deg: number("roll_deg"),
    principal_distance_px: distance,
    rise_px: number("rise_px"),
    cross_px: number("cross_px"),
    k1: number("k1"),
    reversed: camera.reversed === true,
  };
}

export const answer = new Answer();
