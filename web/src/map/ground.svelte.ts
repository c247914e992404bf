/** @file The ground of the open plate: its terrain, and what lies on it, in its own metres. */
import { api, Refused, told, type Schemas, type Trouble } from "../api/client";
import { listThings, type Table, type Thing } from "../api/things";
import { daybook } from "../daybook/daybook.svelte";
import { words } from "../words/en";
import { ringsOf, type LonLat } from "./geometry";

export type Metres = [east_m: number, north_m: number];
export type GroundTold = Schemas["GroundTold"];
export type Feature = Schemas["FeatureForm"];

/** A feature laid on the ground's grid. */
export interface Laid {
  feature: Feature;
  rings: Metres[][];
  closed: boolean;
  middle: Metres;
}

/** Features are fetched so many at a time, and no more than so many in all. */
const PAGE = 1000;
/** So many points are carried at once. */
const MOST_POINTS = 20_000;
const MOST_FEATURES = 10_000;

class Ground {
  told = $state.raw<GroundTold | null>(null);
  missing = $state.raw<Trouble | null>(null);
  laid = $state.raw<Laid[]>([]);
  /** The first name of each feature that has any. */
  names = $state.raw<ReadonlyMap<string, string>>(new Map());
  opening = $state(false);
  #of: string | null = null;
  #opened: Promise<void> = Promise.resolve();

  constructor() {
    daybook.onChange((changed) => {
      if (!this.#of) return;
      const tables = changed?.tables ?? ["terrain_layers", "plates", "features"];
      const mine = changed?.plate_ids.includes(this.#of) ?? true;
      if (tables.includes("terrain_layers") || (tables.includes("plates") && mine))
        void this.open(this.#of, true);
      else if (tables.includes("features") || tables.includes("feature_names"))
        void this.layFeatures();
    });
  }

  /** Open the ground of a plate; quick once it is warm. Who asks meanwhile waits as well. */
  open(plateId: string, anew = false): Promise<void> {
    if (this.#of !== plateId || anew) this.#opened = this.#open(plateId, anew);
    return this.#opened;
  }

  async #open(plateId: string, anew: boolean): Promise<void> {
    this.#of = plateId;
    this.opening = true;
    if (!anew) this.told = null;
    try {
      const ground = await told(
        api.GET("/api/plates/{plate_id}/ground", { params: { path: { plate_id: plateId } } }),
      );
      if (this.#of !== plateId) return;
      // The same ground told again leaves the map as it is.
      if (JSON.stringify(ground) !== JSON.stringify(this.told)) this.told = ground;
      this.missing = null;
      await this.layFeatures();
    } catch (reason) {
      if (!(reason instanceof Refused)) {
        daybook.show(reason);
        return;
      }
      this.told = null;
      this.missing = reason.trouble;
    } finally {
      this.opening = false;
    }
  }

  async toGrid(points: LonLat[]): Promise<(Metres | null)[]> {
    return this.#transform("grid", points);
  }

  async toLonLat(points: Metres[]): Promise<(LonLat | null)[]> {
    return this.#transform("lonlat", points);
  }

  async #transform(
    to: "grid" | "lonlat",
    points: [number, number][],
  ): Promise<([number, number] | null)[]> {
    const ground = this.told?.ground;
    if (!ground || points.length === 0) return [];
    const done: ([number, number] | null)[] = [];
    for (let from = 0; from < points.length; from += MOST_POINTS) {
      const part = await told(
        api.POST("/api/ground/{ground}/transform", {
          params: { path: { ground } },
          body: { to, points: points.slice(from, from + MOST_POINTS) },
        }),
      );
      done.push(...(part.points as ([number, number] | null)[]));
    }
    return done;
  }

  async layFeatures(): Promise<void> {
    await daybook.try(async () => {
      const [items, names] = await Promise.all([allOf("features"), allOf("feature_names")]);
      this.names = new Map(names.toReversed().map((name) => [name.feature_id, name.name]));
      const shapes = items.flatMap((feature) => {
        const shape = ringsOf(feature.geometry);
        return shape ? [{ feature, ...shape }] : [];
      });
      const laid = await this.toGrid(shapes.flatMap(({ rings }) => rings.flat()));
      let next = 0;
      this.laid = shapes.flatMap(({ feature, rings, closed }) => {
        const there = rings.map((ring) => ring.map(() => laid[next++]));
        const whole = there.every((ring) => ring.every(Boolean));
        if (!whole) return [];
        const metres = there as Metres[][];
        return [{ feature, rings: metres, closed, middle: middleOf(metres) }];
      });
    });
  }

  laidOf(featureId: string | null | undefined): Laid | undefined {
    return this.laid.find(({ feature }) => feature.id === featureId);
  }
}

/** Fetch the items of a table, page by page. */
async function allOf<T extends Table>(table: T): Promise<Thing<T>[]> {
  const items: Thing<T>[] = [];
  for (let total = 1; items.length < total && items.length < MOST_FEATURES;) {
    const page = await listThings(table, { offset: items.length, limit: PAGE });
    if (page.items.length === 0) break;
    items.push(...page.items);
    total = page.total;
  }
  return items;
}

function middleOf(rings: Metres[][]): Metres {
  const all = rings[0] ?? [];
  const sum = all.reduce<Metres>(([e, n], [de, dn]) => [e + de, n + dn], [0, 0]);
  return [sum[0] / (all.length || 1), sum[1] / (all.length || 1)];
}

/** What a feature is called on the map. */
export function calledOn(feature: Feature): string {
  const named = ground.names.get(feature.id) ?? feature.what;
  if (named) return named;
  const [, number] = /^feature-(\d+)$/.exec(feature.key) ?? [];
  return number ? words.map.unnamed(number) : feature.key;
}

export const ground = new Ground();
