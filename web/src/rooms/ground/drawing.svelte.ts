/** @file What is drawn on the plate to be put on the map, and the map's lines on the plate. */
import { api, told, type Schemas } from "../../api/client";
import { daybook } from "../../daybook/daybook.svelte";
import type { Point } from "../../plate/lines";
import { plate } from "../../plate/plate.svelte";
import type { PlateTool } from "../../plate/viewer";

export const SHAPES = ["point", "line", "outline", "height"] as const;
export type Shape = (typeof SHAPES)[number];
const LEAST: Record<Shape, number> = { point: 1, line: 2, outline: 3, height: 2 };
const TABLES = ["plans", "features", "fixes", "terrain_layers"];

class Drawing {
  shape = $state<Shape | null>(null);
  draft = $state.raw<Point[]>([]);
  /** What was drawn, with where it lies. */
  done = $state.raw<{ shape: Shape; points: Point[]; told: Schemas["DrawnTold"] } | null>(null);
  asking = $state(false);
  name = $state("");
  what = $state("");
  kept = $state("");
  withMap = $state(false);
  /** Whether it is placed as if the camera stood at the likeliest place. */
  asIfThere = $state(false);
  onPlate = $state.raw<Schemas["OnPlate"] | null>(null);
  #worth = $state.raw<{ id: string; told: Schemas["MappingWorthTold"] } | null>(null);
  worth = $derived(this.#worth?.id === plate.id ? this.#worth.told : null);
  #of: string | null = null;

  constructor() {
    daybook.onChange((changed) => {
      if (this.#of && (changed?.tables.some((one) => TABLES.includes(one)) ?? true))
        void this.#askMap();
    });
  }

  things = $derived(this.withMap ? (this.onPlate?.things ?? []) : []);

  take(shape: Shape | null): void {
    this.shape = this.shape === shape ? null : shape;
    this.drop();
  }

  drop(): void {
    this.draft = [];
    this.done = null;
    this.kept = "";
  }

  get tool(): PlateTool | null {
    const shape = this.shape;
    if (!shape) return null;
    return {
      kind: "points",
      cursor: "point",
      point: (at) => {
        if (this.done) this.drop();
        this.draft = [...this.draft, at];
        if (shape === "point" || (shape === "height" && this.draft.length === LEAST.height))
          void this.finish();
      },
      finish: () => void this.finish(),
    };
  }

  /** Ask where on the map it lies; nothing is kept yet. */
  async finish(): Promise<void> {
    const { shape, draft } = this;
    if (!shape || draft.length < LEAST[shape]) return;
    this.draft = [];
    const answer = await this.#ask(shape, draft, false);
    if (answer) this.done = { shape, points: draft, told: answer };
  }

  /** Look anew where it lies, as if the camera stood elsewhere. */
  async again(): Promise<void> {
    if (!this.done) return;
    const { shape, points } = this.done;
    const answer = await this.#ask(shape, points, false);
    if (answer) this.done = { shape, points, told: answer };
  }

  /** Keep it as a feature, named as typed. */
  async keep(): Promise<void> {
    if (!this.done) return;
    const { shape, points } = this.done;
    const answer = await this.#ask(shape, points, true);
    if (!answer?.feature) return;
    this.drop();
    this.kept = answer.feature;
    this.name = this.what = "";
    this.withMap = true;
    await this.#askMap();
  }

  /** Ask what of the plate can be carried to the map at all. */
  async askWorth(): Promise<void> {
    const id = plate.id;
    if (!id) return;
    this.asking = true;
    const answer = await daybook.try(() =>
      told(api.GET("/api/plates/{plate_id}/mapping_worth", { params: { path: { plate_id: id } } })),
    );
    this.asking = false;
    if (answer) this.#worth = { id, told: answer };
  }

  /** Show the map's lines on a plate, once they are asked for. */
  showMap(plateId: string | null): void {
    if (!this.withMap || this.#of === plateId) return;
    this.#of = plateId;
    this.onPlate = null;
    void this.#askMap();
  }

  async #ask(
    shape: Shape,
    points_px: Point[],
    keep: boolean,
  ): Promise<Schemas["DrawnTold"] | undefined> {
    const id = plate.id;
    if (!id) return undefined;
    this.asking = true;
    const body = {
      shape,
      points_px,
      keep,
      name: this.name.trim(),
      what: this.what.trim(),
      place: this.asIfThere ? 1 : 0,
    };
    const ask = (): Promise<Schemas["DrawnTold"]> =>
      told(api.POST("/api/plates/{plate_id}/drawn", { params: { path: { plate_id: id } }, body }));
    const answer = await (keep ? daybook.act(ask) : daybook.try(ask));
    this.asking = false;
    return answer ?? undefined;
  }

  async #askMap(): Promise<void> {
    const plate_id = this.#of ?? plate.id;
    if (!plate_id) return;
    this.#of = plate_id;
    const now = await daybook.try(() =>
      told(
        api.GET("/api/plates/{plate_id}/traced_from_plans", {
          params: { path: { plate_id }, query: { lines: true } },
        }),
      ),
    );
    if (now && plate_id === this.#of) this.onPlate = now;
  }
}

export const drawing = new Drawing();
