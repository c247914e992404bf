/** @file The old plan beside the plate: its pins, how they hold it, what is traced from it. */
import { anew } from "../api/anew";
import { api, Refused, told, type Schemas, type Trouble } from "../api/client";
import { allKept, asOneWrite } from "../api/keeping";
import { changeThing } from "../api/things";
import { daybook } from "../daybook/daybook.svelte";
import { ground, type Metres } from "../map/ground.svelte";
import { mapLayers } from "../map/map-layers.svelte";
import type { Point } from "../plate/lines";
import { words } from "../words/en";
import { errorGrid, gridPoints, type ErrorGrid } from "./error-grid";

export type Pin = Schemas["PinGiven"] & { name: string };
export type FitKind = NonNullable<Schemas["PinningWanted"]["fit"]> | null;
export const FITS = ["similarity", "affine", "projective", "bending"] as const;
export const SHAPES = ["line", "outline", "point"] as const;
export type Shape = (typeof SHAPES)[number];
/** Points that a thing needs at least. */
const LEAST: Record<Shape, number> = { point: 1, line: 2, outline: 3 };

interface OnGround {
  lon_deg: number;
  lat_deg: number;
  sd_m?: number;
}

class OldPlan {
  id = $state<string | null>(null);
  doing = $state<"look" | "pin" | "trace">("look");
  told = $state.raw<Schemas["PinningTold"] | null>(null);
  /** Why its pins do not hold it yet. */
  notHeld = $state.raw<Trouble | null>(null);
  errors = $state.raw<ErrorGrid | null>(null);
  /** A place of the sheet that waits for its place on the ground, and the other way round. */
  onSheet = $state.raw<Point | null>(null);
  onGround = $state.raw<OnGround | null>(null);
  chosen = $state<string | null>(null);
  /** The fit that a person chose; by the number of pins if none. */
  fit = $state<FitKind>(null);
  /** Another pinned plan on which places are pointed out, in the map's stead. */
  onto = $state<string | null>(null);
  at = $state.raw<Point | null>(null);
  draft = $state.raw<Point[]>([]);
  thing = $state({
    what: "",
    shape: "line" as Shape,
    drawn: "surveyed" as "surveyed" | "sketched",
    from: "",
    to: "",
  });
  busy = $state(false);
  /** Its pins, and the one that waits, in the ground's metres. */
  laid = $state.raw<(Metres | null)[]>([]);

  plan = $derived(mapLayers.plans.find(({ id }) => id === this.id) ?? null);
  pins = $derived((this.plan?.pins ?? []) as unknown as Pin[]);
  pinned = $derived(mapLayers.plans.filter((plan) => plan.id !== this.id && plan.pins?.length));
  traced = $derived(ground.laid.filter(({ feature }) => feature.plan_id === this.id));
  pinning = $derived(this.doing === "pin" && this.plan !== null);

  begun = $derived(
    this.onSheet !== null ||
      this.onGround !== null ||
      this.draft.length > 0 ||
      this.chosen !== null,
  );

  async open(id: string | null): Promise<void> {
    // A pin that waits for the next nudge is one of the plan that is left.
    await allKept().catch(() => undefined);
    this.id = id;
    this.told = null;
    this.notHeld = null;
    this.errors = null;
    this.onto = null;
    this.fit = null;
    this.drop();
    await mapLayers.load();
    if (!this.plan) return;
    this.doing = this.pins.length > 1 ? "look" : "pin";
    await this.reload();
  }

  /** Ask how the pins hold the plan; pins that do not yet are told with the reason. */
  readonly reload = anew(() => this.#reload());

  async #reload(): Promise<void> {
    const id = this.id;
    if (!id || this.pins.length === 0) {
      this.told = null;
      this.notHeld = null;
      this.errors = null;
      return;
    }
    try {
      const now = await told(
        api.GET("/api/plans/{plan_id}/pinning", { params: { path: { plan_id: id } } }),
      );
      if (id === this.id) this.#held(now);
    } catch (reason) {
      if (!(reason instanceof Refused)) daybook.show(reason);
      else if (id === this.id) this.#loose(reason.trouble);
    }
  }

  #held(now: Schemas["PinningTold"]): void {
    this.told = now;
    this.notHeld = null;
    void this.#askErrors();
  }

  #loose(why: Trouble): void {
    this.told = null;
    this.errors = null;
    this.notHeld = why;
  }

  async #askErrors(): Promise<void> {
    const { id, plan } = this;
    if (!id || !plan?.width_px || !plan.height_px) return;
    const [wide, high] = [plan.width_px, plan.height_px];
    const found = await daybook.try(() => placesOn(id, gridPoints(wide, high)));
    if (!found || id !== this.id) return;
    this.errors = errorGrid(
      wide,
      high,
      found.map(({ within90_m }) => within90_m),
    );
  }

  /** Let go of what was begun. */
  drop(): void {
    this.onSheet = null;
    this.onGround = null;
    this.draft = [];
    this.chosen = null;
  }

  /** A place of the sheet was pointed out. */
  async pointSheet(at: Point): Promise<void> {
    if (this.doing === "trace") this.#follow(at);
    else if (this.doing === "pin") {
      this.onSheet = rounded(at);
      await this.#put();
    }
  }

  /** A place of the ground was pointed out, on the map or on a feature. */
  async pointGround(at: OnGround): Promise<void> {
    this.onGround = at;
    await this.#put();
  }

  pointMetres(at: Metres): Promise<void> {
    return asOneWrite(async () => {
      const [place] = await ground.toLonLat([at]);
      if (place) await this.pointGround({ lon_deg: place[0], lat_deg: place[1] });
    });
  }

  /** A place of another pinned plan was pointed out: its doubt comes along. */
  pointOnto(planId: string, at: Point): Promise<void> {
    return asOneWrite(() => this.#pointOnto(planId, at));
  }

  async #pointOnto(planId: string, at: Point): Promise<void> {
    const found = await daybook.try(() => placesOn(planId, [at]));
    const place = found?.[0];
    const { lon_deg = null, lat_deg = null } = place ?? {};
    if (lon_deg === null || lat_deg === null) return;
    await this.pointGround({ lon_deg, lat_deg, ...(place?.sd_m ? { sd_m: place.sd_m } : {}) });
  }

  async #put(): Promise<void> {
    const [sheet, place] = [this.onSheet, this.onGround];
    if (!sheet || !place) return;
    this.onSheet = null;
    this.onGround = null;
    await this.save((pins) => {
      const used = new Set(pins.map(({ name }) => name));
      let number = pins.length + 1;
      while (used.has(String(number))) number++;
      const pin: Pin = { name: String(number), x_px: sheet[0], y_px: sheet[1], ...place };
      this.chosen = pin.name;
      return [...pins, pin];
    }, words.plans.why.put);
  }

  async moveOnSheet(name: string, at: Point): Promise<void> {
    const [x_px, y_px] = rounded(at);
    await this.#change(name, { x_px, y_px });
  }

  moveOnGround(name: string, at: Metres): Promise<void> {
    return asOneWrite(async () => {
      const [place] = await ground.toLonLat([at]);
      if (place) await this.#change(name, { lon_deg: place[0], lat_deg: place[1] });
    });
  }

  async #change(name: string, to: Partial<Pin>): Promise<void> {
    await this.save(
      (pins) => pins.map((pin) => (pin.name === name ? { ...pin, ...to } : pin)),
      words.plans.why.moved,
    );
  }

  async takeAway(name: string): Promise<void> {
    if (this.chosen === name) this.chosen = null;
    await this.save((pins) => pins.filter((pin) => pin.name !== name), words.plans.why.taken);
  }

  async chooseFit(fit: FitKind): Promise<void> {
    this.fit = fit;
    await this.save((pins) => pins, words.plans.why.fit);
  }

  async mirror(mirrored: boolean): Promise<void> {
    await this.save((pins) => pins, words.plans.why.fit, mirrored);
  }

  /** The last save, done when it is kept. */
  saved: Promise<void> = Promise.resolve();
  #pinsOf = 0;

  /**
   * Change the pins and keep them; while they do not hold the plan yet, as they are.
   *
   * One change after another, and none while something is taken back: each begins from
   * the pins that are there then.
   */
  save(change: (pins: Pin[]) => Pin[], why: string, mirrored?: boolean): Promise<void> {
    const id = this.id;
    this.saved = daybook.inTurn(async () => {
      if (id !== this.id) return;
      if (this.#pinsOf !== daybook.takenBack) await mapLayers.load(true);
      this.#pinsOf = daybook.takenBack;
      await this.#save(change(this.pins), why, mirrored);
    });
    return this.saved;
  }

  async #save(pins: Pin[], why: string, mirrored?: boolean): Promise<void> {
    const { id, plan } = this;
    if (!id || !plan) return;
    this.busy = true;
    try {
      const now = await told(
        api.PUT("/api/plans/{plan_id}/pinning", {
          params: { path: { plan_id: id }, query: { why } },
          body: { pins, fit: this.fit, mirrored: mirrored ?? null, dry_run: false },
        }),
      );
      this.#held(now);
    } catch (reason) {
      if (!(reason instanceof Refused)) {
        daybook.show(reason);
        return;
      }
      const kept = await daybook.act(() => changeThing("plans", plan, { pins } as never, why));
      if (kept) this.#loose(reason.trouble);
    } finally {
      this.busy = false;
      await mapLayers.load(true);
    }
  }

  /** Whether what is being traced can be kept. */
  get complete(): boolean {
    return this.draft.length >= LEAST[this.thing.shape];
  }

  #follow(at: Point): void {
    this.draft = this.thing.shape === "point" ? [rounded(at)] : [...this.draft, rounded(at)];
  }

  /** Keep what was traced as a feature. */
  async keep(): Promise<void> {
    const id = this.id;
    const { what, shape, drawn, from, to } = this.thing;
    if (!id || !this.complete) return;
    const made = await daybook.act(() =>
      told(
        api.POST("/api/plans/{plan_id}/traced", {
          params: { path: { plan_id: id } },
          body: {
            things: [
              {
                what: what.trim() || words.plans.trace.unnamed,
                shape,
                drawn,
                points_px: this.draft,
              },
            ],
            existed_from: from.trim() || null,
            existed_to: to.trim() || null,
          },
        }),
      ),
    );
    const first = made?.features[0];
    if (!first) return;
    this.draft = [];
    daybook.said = words.plans.trace.kept(first.what, first.sd_m);
    await ground.layFeatures();
  }
}

async function placesOn(planId: string, points_px: Point[]): Promise<Schemas["SheetPlace"][]> {
  const found = await told(
    api.POST("/api/plans/{plan_id}/places", {
      params: { path: { plan_id: planId } },
      body: { points_px },
    }),
  );
  return found.places;
}

const rounded = ([x, y]: Point): Point => [Math.round(x * 100) / 100, Math.round(y * 100) / 100];

export const oldPlan = new OldPlan();

daybook.onChange((changed) => {
  const tables = changed?.tables ?? ["plans"];
  if (oldPlan.id && tables.includes("plans"))
    void mapLayers.load(true).then(() => oldPlan.reload());
});
