/** @file Contours of the part of the map in view, fetched as it moves. */
import { api, told, type Schemas } from "../api/client";
import { contourInterval } from "./geometry";

type Box = [w: number, s: number, e: number, n: number];

/** Contours are fetched for a part so much larger than the view, to be moved within. */
const MARGIN = 0.4;
const WAIT_MS = 180;

export class Contours {
  lines = $state.raw<Schemas["Contour"][]>([]);
  interval_m = $state(0);
  #loaded: { box: Box; interval_m: number; ground: string } | null = null;
  #wait: ReturnType<typeof setTimeout> | undefined;

  /** Ask for what a view needs, unless it is there. */
  want(ground: string, view: Box, metres_per_px: number): void {
    const interval_m = contourInterval(metres_per_px);
    const have = this.#loaded;
    if (have?.ground === ground && have.interval_m === interval_m && holds(have.box, view)) return;
    clearTimeout(this.#wait);
    this.#wait = setTimeout(
      () => void this.#fetch(ground, view, interval_m, metres_per_px),
      WAIT_MS,
    );
  }

  async #fetch(ground: string, view: Box, interval_m: number, resolution_m: number): Promise<void> {
    const [w, s, e, n] = view;
    const [dx, dy] = [(e - w) * MARGIN, (n - s) * MARGIN];
    const box: Box = [w - dx, s - dy, e + dx, n + dy];
    try {
      const found = await told(
        api.GET("/api/ground/{ground}/contours", {
          params: { path: { ground }, query: { interval_m, resolution_m, box: box.join(",") } },
        }),
      );
      this.#loaded = { box, interval_m, ground };
      this.lines = found.lines;
      this.interval_m = found.interval_m;
    } catch {
      // The map is whole without contours; the next movement asks again.
    }
  }
}

function holds([w, s, e, n]: Box, [vw, vs, ve, vn]: Box): boolean {
  return w <= vw && s <= vs && e >= ve && n >= vn;
}
