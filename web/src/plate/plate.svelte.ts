/** @file The plate that is open: all that is on it, what is chosen, what was done to it. */
import { SvelteSet } from "svelte/reactivity";

import { anew } from "../api/anew";
import { api, told, type Schemas } from "../api/client";
import {
  addThing,
  changeThing,
  revisionOf,
  setAside,
  wrote,
  type ChangeOf,
  type NewThing,
} from "../api/things";
import { asOneWrite } from "../api/keeping";
import { daybook } from "../daybook/daybook.svelte";
import { calledOn, type Feature } from "../map/ground.svelte";
import { words } from "../words/en";
import type { Point, Run } from "./lines";

export type Whole = Schemas["PlateWhole"];
export type Detail = Schemas["DetailForm"];
export type Mark = Schemas["MarkForm"];
export type EvidenceItem = Schemas["EvidenceItemForm"];
export type Ridge = Schemas["RidgeTold"];

/** Something chosen on the plate, in a list or on the map. */
export type Chosen =
  | { kind: "detail"; id: string }
  | { kind: "evidence"; id: string }
  | { kind: "feature"; id: string }
  | null;

/** Tables that tell something of every plate. */
const SHARED = new Set(["features", "terrain_layers"]);

class OpenPlate {
  id = $state<string | null>(null);
  whole = $state.raw<Whole | null>(null);
  skyline = $state.raw<Schemas["SkylineTold"] | null>(null);
  chosen = $state<Chosen>(null);
  /** A mark that waits for its place on the map. */
  tying = $state<string | null>(null);
  /** The horizon was shown while the skyline was drawn: the trace is no longer blind. */
  horizonShown = $state(false);
  /** Plates whose covered picture a person asked to see, until the page is left. */
  uncovered = new SvelteSet<string>();
  /** Points just set, which the server has not lettered yet. */
  lettering = $state.raw<Point[]>([]);

  details = $derived(this.whole?.details.filter(stands) ?? []);
  marks = $derived(this.whole?.marks.filter(stands) ?? []);
  /** But for what ties it to other plates: see `panorama`. */
  evidence = $derived(
    this.whole?.evidence.filter((item) => stands(item) && item.kind !== "tie") ?? [],
  );
  fixes = $derived(
    (this.whole?.fixes.filter(stands) ?? []).toSorted((a, b) => b.made.localeCompare(a.made)),
  );
  look = $derived(this.whole?.look ?? null);
  lines = $derived<Run[]>(this.skyline?.runs ?? []);
  /** Why the picture is covered until a person asks to see it; null where it is not. */
  cover = $derived.by<string | null>(() => {
    if (!this.id || this.uncovered.has(this.id) || !this.#covering) return null;
    return this.#covering.because ?? "";
  });
  #covering = $derived(this.whole?.restrictions.find((one) => stands(one) && one.covered) ?? null);
  /** Whether the server gives its picture only to who asks to see it. */
  uncover = $derived(this.#covering !== null);
  /** Whose the skyline is: a machine's until somebody mends it. */
  linesBy = $derived<"traced" | "person">(this.skyline?.by_hand === false ? "traced" : "person");
  ridges = $derived<Ridge[]>(this.skyline?.ridges ?? []);

  /** The last stroke on its way of each plate: it gives the line it left, or null. */
  #strokes = new Map<string, Promise<Schemas["AsRead"] | null>>();

  constructor() {
    daybook.onChange((changed) => {
      if (!this.id) return;
      const shared = changed?.tables.some((name) => SHARED.has(name)) ?? true;
      if (shared || changed?.plate_ids.includes(this.id)) void this.reload();
    });
  }

  async open(id: string | null): Promise<void> {
    if (id === this.id) return;
    this.id = id;
    this.whole = null;
    this.skyline = null;
    this.chosen = null;
    this.tying = null;
    await this.reload();
  }

  readonly reload = anew(() => this.#load());

  async #load(): Promise<void> {
    const id = this.id;
    if (!id) return;
    await daybook.try(async () => {
      const path = { params: { path: { plate_id: id } } };
      const [whole, skyline] = await Promise.all([
        told(api.GET("/api/plates/{plate_id}", path)),
        told(api.GET("/api/plates/{plate_id}/skyline", path)),
      ]);
      if (id !== this.id) return;
      this.whole = whole;
      // While strokes are on their way the line is as it was drawn.
      if (!this.#strokes.has(id) || !this.skyline) this.skyline = skyline;
    });
  }

  /** Change what is known of the plate itself. */
  async change(values: ChangeOf<"plates">, why = ""): Promise<void> {
    if (!this.whole) return;
    try {
      await changeThing("plates", this.whole.plate, values, why);
    } finally {
      await this.reload();
    }
  }

  markOf(detailId: string): Mark | undefined {
    return this.marks.find((mark) => mark.detail_id === detailId);
  }

  detailOf(markKey: string): Detail | undefined {
    const mark = this.marks.find(({ key }) => key === markKey);
    return this.details.find(({ id }) => id === mark?.detail_id);
  }

  featureOf(is: (feature: Feature) => boolean): string | undefined {
    const feature = this.whole?.features.find(is);
    return feature && calledOn(feature);
  }

  /** What a person calls a mark or a feature by, of its key. */
  called = (key: string): string =>
    this.detailOf(key)?.key ?? this.featureOf((feature) => feature.key === key) ?? key;

  /** Letter something seen at a point. */
  async letter(point: Point): Promise<void> {
    const id = this.id;
    if (!id) return;
    this.lettering = [...this.lettering, point];
    const lettered = await daybook.act(() =>
      told(
        api.POST("/api/plates/{plate_id}/letter", {
          params: { path: { plate_id: id } },
          body: { points_px: [point], shape: "point" },
        }),
      ),
    );
    if (lettered) await this.reload();
    this.lettering = this.lettering.filter((one) => one !== point);
    if (!lettered || id !== this.id) return;
    this.chosen = { kind: "detail", id: lettered.detail.id };
  }

  async moveMark(mark: Mark, point: Point): Promise<void> {
    await daybook.act(() => changeThing("marks", mark, { points_px: [point] }, words.why.moved));
    await this.reload();
  }

  async setDetailAside(detail: Detail): Promise<void> {
    const mark = this.markOf(detail.id);
    await daybook.act(() =>
      asOneWrite(async () => {
        if (mark) await setAside("marks", mark.id, words.why.setAside);
        await setAside("details", detail.id, words.why.setAside);
      }),
    );
    this.chosen = null;
    await this.reload();
  }

  async setEvidenceAside(id: string): Promise<void> {
    await daybook.act(() => setAside("evidence", id, words.why.setAside));
    this.chosen = null;
    await this.reload();
  }

  async addEvidence(
    kind: EvidenceItem["kind"],
    content: Record<string, unknown>,
    said = "",
  ): Promise<EvidenceItem | undefined> {
    if (!this.id) return undefined;
    const item: Record<string, unknown> = { plate_id: this.id, kind, content };
    if (this.look) item.scan_id = this.look.scan_id;
    if (this.horizonShown) item.traced_blind = false;
    if (said) item.source_words = said;
    const added = await daybook.act(() =>
      addThing("evidence", item as unknown as NewThing<"evidence">),
    );
    if (added) this.chosen = { kind: "evidence", id: added.id };
    await this.reload();
    return added;
  }

  /**
   * Save what was drawn, upon the line that was on the screen.
   *
   * Strokes are quicker than the server: each waits for the one before, whose line it
   * was drawn upon, and is saved though its plate was left meanwhile. One that is refused
   * takes those after it with it.
   */
  async saveSkyline(runs: Run[], why: string): Promise<void> {
    const id = this.id;
    if (!id || !this.skyline) return;
    const { evidence_id, revision } = this.skyline;
    const scan = this.look ? { scan_id: this.look.scan_id } : {};
    this.skyline = { ...this.skyline, runs, by_hand: true };
    const earlier =
      this.#strokes.get(id) ?? Promise.resolve<Schemas["AsRead"] | null>({ evidence_id, revision });
    const mine = asOneWrite(() =>
      earlier.then(async (read) => {
        if (!read) return null;
        const kept = await daybook.act(() =>
          told(
            api.PUT("/api/plates/{plate_id}/skyline", {
              params: { path: { plate_id: id }, query: { why } },
              body: { runs, read, ...scan },
            }),
          ),
        );
        return kept ? { evidence_id: kept.evidence_id, revision: kept.revision } : null;
      }),
    );
    this.#strokes.set(id, mine);
    await mine;
    if (this.#strokes.get(id) !== mine) return;
    this.#strokes.delete(id);
    await this.reload();
  }

  ridgeOf(evidenceId: string | undefined): Ridge | undefined {
    return this.ridges.find(({ evidence_id }) => evidence_id === evidenceId);
  }

  async saveRidge(ridge: Ridge, runs: Run[], why: string): Promise<void> {
    const id = this.id;
    if (!id) return;
    await daybook.act(() =>
      told(
        api.PUT("/api/plates/{plate_id}/ridges/{evidence_id}", {
          params: { path: { plate_id: id, evidence_id: ridge.evidence_id }, query: { why } },
          body: {
            runs,
            read: { evidence_id: ridge.evidence_id, revision: ridge.revision },
          },
        }),
      ),
    );
    if (runs.length === 0) this.chosen = null;
    await this.reload();
  }

  async trace(what: Schemas["TraceAsked"]["what"] = "skyline"): Promise<void> {
    const id = this.id;
    if (!id) return;
    const job = await daybook.act(() =>
      told(
        api.POST("/api/plates/{plate_id}/trace", {
          params: { path: { plate_id: id } },
          body: { what, pins: [], barriers: [] },
        }),
      ),
    );
    if (job) {
      const done = await daybook.follow(job);
      if (what === "ridge lines") daybook.said = done.result?.notes.join(" ") ?? "";
      await this.reload();
    }
  }

  async tie(mark: Mark, to: Schemas["Tied"]): Promise<void> {
    await daybook.act(async () =>
      wrote(
        await told(
          api.POST("/api/marks/{mark_id}/tie", {
            params: { path: { mark_id: mark.id } },
            body: { ...to, revision: revisionOf(mark) },
          }),
        ),
      ),
    );
    this.tying = null;
    await this.reload();
  }
}

export function stands(item: { removed: boolean; withdrawn: string | null }): boolean {
  return !item.removed && !item.withdrawn;
}

export const plate = new OpenPlate();
