/** @file What the pointer does on the map. */
import { api, told, type Schemas } from "../api/client";
import { asOneWrite } from "../api/keeping";
import { daybook } from "../daybook/daybook.svelte";
import { plate } from "../plate/plate.svelte";
import type { Coordinate, Gesture } from "../sheet/gesture";
import { words } from "../words/en";
import { apart, circle, shapeOf, withPoint } from "./geometry";
import { ground, type Metres } from "./ground.svelte";
import { stand } from "./stand.svelte";

export const MAP_TOOLS = ["move", "stand", "circle", "outline", "said", "measure"] as const;
export type MapTool = (typeof MAP_TOOLS)[number];

export const PLACES = ["inside", "within", "along", "on top of", "from"] as const;
export type SaidPlace = (typeof PLACES)[number];
/** Words that reach so far from the place they name. */
export const REACHING_PLACES: readonly SaidPlace[] = ["within", "along"];

/** A circle is no smaller, however short the stroke [m]. */
const LEAST_SEARCHED_M = 10;

class MapTools {
  name = $state<MapTool>("move");
  draft = $state.raw<Metres[]>([]);
  /** The place drawn is complete, and waits for the words that name it. */
  asking = $state(false);

  take(name: MapTool): void {
    this.name = this.name === name ? "move" : name;
    this.draft = [];
    this.asking = false;
  }

  /** What completes the line that was begun, if it can be complete. */
  get complete(): (() => void) | null {
    const least = { outline: 3, said: 1 }[this.name as "outline" | "said"];
    if (!least || this.draft.length < least || this.asking) return null;
    return this.name === "said"
      ? () => (this.asking = true)
      : () => void asOneWrite(() => this.#search());
  }

  /** What is being drawn, as outlines. */
  get drawn(): { rings: Metres[][]; closed: boolean } {
    const [a, b] = this.draft;
    if (this.name === "circle" && a && b) return { rings: [circle(a, apart(a, b))], closed: true };
    return { rings: [this.draft], closed: this.name === "outline" || this.name === "said" };
  }

  get gesture(): Gesture | null {
    if (plate.tying) return { kind: "points", point: (at) => void tieTo(at) };
    switch (this.name) {
      case "stand":
        return { kind: "points", point: (at) => stand.moveTo(at) };
      case "circle":
        return {
          kind: "stroke",
          stroke: (points, done) => {
            const [a, b] = [points[0], points.at(-1)];
            if (!a || !b) return;
            this.draft = [a, b];
            if (done) void asOneWrite(() => this.#search());
          },
        };
      case "outline":
      case "said":
        return {
          kind: "points",
          point: (at) => {
            if (!this.asking) this.draft = withPoint(this.draft, at);
          },
          finish: () => this.complete?.(),
        };
      case "measure":
        return {
          kind: "points",
          point: (at) => (this.draft = this.draft.length > 1 ? [at] : [...this.draft, at]),
        };
      default:
        return null;
    }
  }

  /** Keep what a source says of the place drawn: a point, a line along, or ground. */
  say(said: Omit<Schemas["SaidOfPlace"], "geometry" | "what">): Promise<void> {
    return asOneWrite(() => this.#say(said));
  }

  async #say(said: Omit<Schemas["SaidOfPlace"], "geometry" | "what">): Promise<void> {
    const id = plate.id;
    const places = (await ground.toLonLat(this.draft)).filter((point) => point !== null);
    if (!id || places.length === 0) return;
    const done = await daybook.act(() =>
      told(
        api.POST("/api/plates/{plate_id}/said_of_place", {
          params: { path: { plate_id: id }, query: { why: words.why.said } },
          body: { ...said, geometry: shapeOf(places, said.place === "along") },
        }),
      ),
    );
    if (!done) return;
    this.take("move");
    await plate.reload();
    await ground.layFeatures();
  }

  /** Make what was drawn the ground searched. */
  async #search(): Promise<void> {
    const id = plate.id;
    const [a, b] = this.draft;
    if (!id || !a || !b) return;
    const name = this.name;
    const points = await ground.toLonLat(name === "circle" ? [a] : this.draft);
    const places = points.filter((point) => point !== null);
    const [first] = places;
    if (!first) return;
    const round = (x: number): number => Number(x.toFixed(6));
    const searched =
      name === "circle"
        ? `${round(first[0])},${round(first[1])},${Math.max(LEAST_SEARCHED_M, Math.round(apart(a, b)))}m`
        : JSON.stringify({
            type: "Polygon",
            coordinates: [[...places, first].map((p) => p.map(round))],
          });
    if ((name === "outline" && places.length < 3) || id !== plate.id) return;
    await daybook.act(() => plate.change({ ground_searched: searched }, words.why.searched));
    this.draft = [];
    this.name = "move";
  }
}

/** Tie the waiting mark to a place of the map that no feature has. */
export function tieTo(at: Coordinate): Promise<void> {
  return asOneWrite(() => tieWhere(at));
}

async function tieWhere(at: Coordinate): Promise<void> {
  const mark = plate.marks.find(({ id }) => id === plate.tying);
  const [place] = await ground.toLonLat([at]);
  if (!mark || !place) return;
  const detail = plate.details.find(({ id }) => id === mark.detail_id);
  await plate.tie(mark, {
    lon_deg: place[0],
    lat_deg: place[1],
    what: detail?.what ?? null,
    untie: false,
  });
}

export async function tieToFeature(featureId: string): Promise<void> {
  const mark = plate.marks.find(({ id }) => id === plate.tying);
  if (mark) await plate.tie(mark, { feature_id: featureId, untie: false });
}

export const mapTools = new MapTools();
