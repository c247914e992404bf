/** @file Cards of the contact sheet, fetched a page at a time as they come into view. */
import { SvelteMap } from "svelte/reactivity";

import { api, told, type Schemas } from "../../api/client";
import { daybook } from "../../daybook/daybook.svelte";

export type Card = Schemas["PlateCard"];
const PAGE = 100;
/** Where the browser keeps how large pictures of the sheet are. */
const LARGE = "wherestood.large-cards";

export interface Filter {
  words: string;
  grade: string;
  verdict: string;
  size: string;
  maker_id: string;
  /** West, south, east, north in degrees, with commas. */
  box: string;
  from_year: number | null;
  to_year: number | null;
  sort: "key" | "title" | "date" | "newest";
}

class SheetPages {
  filter = $state<Filter>({
    words: "",
    grade: "",
    verdict: "",
    size: "",
    maker_id: "",
    box: "",
    from_year: null,
    to_year: null,
    sort: "key",
  });
  total = $state(0);
  loaded = $state(false);
  places = $state.raw<Schemas["PlatePlaces"] | null>(null);
  /** The ground that holds each camera, where the plates are few enough. */
  regions = $state.raw<Schemas["PlateRegion"][]>([]);
  #pages = new SvelteMap<number, Card[]>();
  #asked = new Set<number>();
  #generation = 0;
  #inView = new Set<number>();
  /** How many look at positions: the map, the time line. */
  #looking = 0;
  #placesOf = -1;
  /** Whether pictures of the sheet are large. */
  large = $state(localStorage.getItem(LARGE) === "yes");

  enlarge(large: boolean): void {
    this.large = large;
    localStorage.setItem(LARGE, large ? "yes" : "no");
  }

  constructor() {
    daybook.onChange((changed) => {
      const tables = changed?.tables ?? ["plates"];
      if (
        tables.some((name) =>
          ["plates", "scans", "fixes", "decisions", "restrictions"].includes(name),
        )
      )
        this.again();
    });
  }

  get query(): Record<string, string | number> {
    return Object.fromEntries(
      Object.entries(this.filter).filter(([, value]) => value !== "" && value !== null),
    ) as Record<string, string | number>;
  }

  /** Forget what was fetched; what is in view is asked for again. */
  again(): void {
    this.#generation++;
    this.#asked.clear();
    // What is shown stays until the new comes; pages that nobody looks at are let go.
    const wanted = [...this.#inView];
    for (const page of this.#pages.keys()) if (!wanted.includes(page)) this.#pages.delete(page);
    for (const page of wanted.length ? wanted : [0]) void this.#fetch(page);
    this.#placesOf = -1;
    if (this.#looking > 0) void this.fetchPlaces();
  }

  card(index: number): Card | undefined {
    return this.#pages.get(Math.floor(index / PAGE))?.[index % PAGE];
  }

  want(first: number, last: number): void {
    this.#inView.clear();
    for (let page = Math.floor(first / PAGE); page <= Math.floor(last / PAGE); page++) {
      this.#inView.add(page);
      if (!this.#asked.has(page)) void this.#fetch(page);
    }
  }

  /** Positions and years are fetched while somebody looks at them. */
  showPlaces(): () => void {
    this.#looking++;
    if (this.#placesOf !== this.#generation) void this.fetchPlaces();
    return () => this.#looking--;
  }

  async #fetch(page: number): Promise<void> {
    this.#asked.add(page);
    const generation = this.#generation;
    const query = { ...this.query, offset: page * PAGE, limit: PAGE };
    const found = await daybook.try(() => told(api.GET("/api/plates", { params: { query } })));
    if (!found || generation !== this.#generation) return;
    this.#pages.set(page, found.cards);
    this.total = found.total;
    this.loaded = true;
  }

  async fetchPlaces(): Promise<void> {
    const generation = this.#generation;
    this.#placesOf = generation;
    const found = await daybook.try(() =>
      told(api.GET("/api/plates/places", { params: { query: this.query } })),
    );
    if (found && generation === this.#generation) this.places = found;
    const regions = await daybook.try(() =>
      told(api.GET("/api/plates/regions", { params: { query: this.query } })),
    );
    if (regions && generation === this.#generation) this.regions = regions;
  }
}

export const pages = new SheetPages();
