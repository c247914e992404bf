/** @file The tools of Looking: what is in the hand, and what was begun with it. */
import { api, told } from "../../api/client";
import { daybook } from "../../daybook/daybook.svelte";
import { draw, erase, openGap, replace, type Point, type Run } from "../../plate/lines";
import { panorama, type Member } from "../../plate/panorama.svelte";
import { plate, type Detail } from "../../plate/plate.svelte";
import type { PlateTool } from "../../plate/viewer";
import { words } from "../../words/en";

export const TOOLS = [
  "hand",
  "letter",
  "skyline",
  "ridge",
  "upright",
  "water",
  "shadow",
  "wall",
  "blur",
  "inline",
  "order",
  "size",
  "distance",
  "both",
  "measure",
] as const;
export type ToolName = (typeof TOOLS)[number];
export const MENDS = ["brush", "eraser", "gap", "pen"] as const;
export type Mend = (typeof MENDS)[number];

export const TOOL_KEYS: Record<ToolName, string> = {
  hand: "h",
  letter: "l",
  skyline: "s",
  ridge: "r",
  upright: "u",
  water: "w",
  shadow: "a",
  wall: "c",
  blur: "t",
  inline: "i",
  order: "o",
  size: "z",
  distance: "d",
  both: ".",
  measure: "m",
};
export const MEND_KEYS: Record<Mend, string> = { brush: "b", eraser: "e", gap: "g", pen: "p" };

class Tools {
  name = $state<ToolName>("hand");
  mend = $state<Mend>("brush");
  /** Of the eraser, on the screen [px]. */
  radius_px = $state(14);
  /** Points of what was begun. */
  draft = $state.raw<Point[]>([]);
  /** The edge that the machine finds between the pen's points. */
  snapped = $state.raw<Run | null>(null);
  /** Marks picked for an order or an in line. */
  pair = $state<string[]>([]);
  /** Where a thing is on the other plate, until it is pointed at on this one. */
  there = $state.raw<{ at: Point; beside: Member } | null>(null);
  /** The thing whose distance is known. */
  of = $state<string | null>(null);
  relation = $state<"left" | "right" | "above" | "below">("left");
  /** Scan pixels to a screen pixel, as the plate last said. */
  px_per_screen = 1;

  take(name: ToolName): void {
    this.name = name;
    this.drop();
  }

  /** Let go of what was begun. */
  drop(): void {
    this.draft = [];
    this.snapped = null;
    this.pair = [];
    this.of = null;
    this.there = null;
  }

  /** What is used on another plate of the panorama, beside this one. */
  besideTool(beside: Member | undefined): PlateTool | null {
    if (this.name !== "both" || !beside) return null;
    return {
      kind: "points",
      cursor: "point",
      point: (at) => {
        this.there = { at, beside };
        this.#joinBoth();
      },
    };
  }

  /** Once a thing is pointed at on both plates, it is kept. */
  #joinBoth(): void {
    const [here] = this.draft;
    const there = this.there;
    if (!here || !there) return;
    this.drop();
    void panorama.join(here, there.at, there.beside);
  }

  /** The line that brush, eraser, gap and pen work on, if one is in the hand. */
  get mends(): { runs: Run[]; save: (runs: Run[], why: string) => void } | null {
    if (this.name === "skyline")
      return { runs: plate.lines, save: (runs, why) => void plate.saveSkyline(runs, why) };
    const ridge = this.name === "ridge" ? plate.ridgeOf(plate.chosen?.id) : undefined;
    if (!ridge) return null;
    return { runs: ridge.runs, save: (runs, why) => void plate.saveRidge(ridge, runs, why) };
  }

  #points(most: number, done: (points: Point[]) => void): PlateTool {
    const finish = (): void => {
      const points = this.draft;
      this.drop();
      if (points.length > 1) done(points);
    };
    return {
      kind: "points",
      cursor: "point",
      point: (at) => {
        if (!plate.look) return;
        const last = this.draft.at(-1);
        if (last && Math.hypot(last[0] - at[0], last[1] - at[1]) < 1.5 * this.px_per_screen) return;
        this.draft = [...this.draft, at];
        if (this.draft.length === most) finish();
      },
      finish,
    };
  }

  get tool(): PlateTool | null {
    switch (this.name) {
      case "letter":
        return { kind: "points", cursor: "point", point: (at) => void plate.letter(at) };
      case "skyline":
        return this.#mending();
      case "ridge":
        if (this.mends) return this.#mending();
        return this.#points(Infinity, (points) => {
          void plate.addEvidence("ridge_line", {
            points_px: points.toSorted((a, b) => a[0] - b[0]),
          });
        });
      case "upright":
        return this.#points(
          2,
          (points) => void plate.addEvidence("plumb_edge", { points_px: points }),
        );
      case "water":
        return this.#points(Infinity, (points) => {
          void plate.addEvidence("water_level", { points_px: points });
        });
      case "shadow":
        return this.#points(3, (points) => {
          void plate.addEvidence("shadow", { points_px: points });
        });
      case "both":
        return {
          kind: "points",
          cursor: "point",
          point: (at) => {
            this.draft = [at];
            this.#joinBoth();
          },
        };
      case "measure":
      case "size":
      case "blur":
        return this.#kept(2);
      case "wall":
        return this.#kept(3);
      default:
        return null;
    }
  }

  /** Points that stay until the panel has asked the rest; one more begins anew. */
  #kept(count: number): PlateTool {
    return {
      kind: "points",
      cursor: "point",
      point: (at) => {
        this.draft = this.draft.length >= count ? [at] : [...this.draft, at];
      },
    };
  }

  #mending(): PlateTool {
    if (this.mend === "pen") return this.#pen();
    return {
      kind: "stroke",
      cursor: "point",
      stroke: (points, done) => {
        if (!done) {
          this.draft = points;
          return;
        }
        this.draft = [];
        const mended = this.#mended(points);
        if (mended) this.mends?.save(mended, this.#why);
      },
    };
  }

  get #why(): string {
    return words.looking.mends[this.mend].why(this.name === "ridge");
  }

  #mended(points: Point[]): Run[] | null {
    const first = points[0];
    const last = points.at(-1);
    const runs = this.mends?.runs;
    if (!first || !last || !runs) return null;
    if (this.mend === "eraser") return erase(runs, points, this.radius_px * this.px_per_screen);
    if (this.mend === "gap") return openGap(runs, first[0], last[0]);
    return points.length > 1 ? draw(runs, points) : null;
  }

  #pen(): PlateTool {
    return {
      kind: "points",
      cursor: "point",
      point: (at) => {
        this.draft = [...this.draft, at].toSorted((a, b) => a[0] - b[0]);
        if (this.draft.length > 1) void this.#snap();
      },
      finish: () => {
        const found = this.snapped;
        const mends = this.mends;
        this.drop();
        if (found && mends) mends.save(replace(mends.runs, found), this.#why);
      },
    };
  }

  async #snap(): Promise<void> {
    const id = plate.id;
    const points = this.draft;
    if (!id) return;
    const line = await daybook.try(() =>
      told(
        api.POST("/api/plates/{plate_id}/snap", {
          params: { path: { plate_id: id } },
          body: { points, reach_px: 40 },
        }),
      ),
    );
    if (line && points === this.draft) this.snapped = line;
  }

  /** Use a tag for what is in the hand; the second of a pair completes it. */
  get pick(): ((detail: Detail) => void) | null {
    const kind = this.name;
    if (kind === "distance") return (detail) => (this.of = detail.id);
    if (kind !== "inline" && kind !== "order") return null;
    return (detail) => {
      const mark = plate.markOf(detail.id);
      if (!mark || this.pair.includes(mark.key)) return;
      this.pair = [...this.pair, mark.key];
      const [a, b] = this.pair;
      if (!a || !b) return;
      this.pair = [];
      if (kind === "inline") void plate.addEvidence("in_line", { a, b });
      else void plate.addEvidence("order", { a, relation: this.relation, b });
    };
  }
}

export const tools = new Tools();
