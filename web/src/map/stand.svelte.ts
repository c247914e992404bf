/** @file Where a camera is tried to stand, and how it is held: the answer's, or by hand. */
import { api, told, type Schemas } from "../api/client";
import { daybook } from "../daybook/daybook.svelte";
import { plate } from "../plate/plate.svelte";
import { ground, type Metres } from "./ground.svelte";

export type Camera = Schemas["CameraGiven"];
export type Horizon = Schemas["HorizonTold"];

const STEPS = 1440;
const TRIPOD_M = 1.5;

class Stand {
  at = $state.raw<Metres | null>(null);
  lens_above_m = $state(TRIPOD_M);
  camera = $state.raw<Camera | null>(null);
  /** Whose place it is: what a person moved or turned is labelled so. */
  whose = $state<"answer" | "hand" | "nobody">("nobody");
  byHand = $derived(this.whose === "hand");
  horizon = $state.raw<Horizon | null>(null);
  /** The traced skyline unrolled with the camera's bearing at zero. */
  unrolled = $state.raw<Schemas["Unrolled"] | null>(null);
  /** From input to the horizon's coming, last time [ms]. */
  took_ms = $state(0);

  #busy = false;
  #next: Metres | null = null;
  #unrolledFor = "";

  /** Set out from an answer, and from the plate alone where there is none. */
  async begin(from: { at: Metres; camera: Camera } | null): Promise<void> {
    this.whose = from ? "answer" : "nobody";
    const id = plate.id;
    if (!id) return;
    if (from) {
      this.camera = from.camera;
      this.moveTo(from.at, false);
    } else {
      this.camera =
        (await daybook.try(() =>
          told(
            api.GET("/api/plates/{plate_id}/camera_guess", { params: { path: { plate_id: id } } }),
          ),
        )) ?? null;
      const [w, s, e, n] = ground.told ? this.#middle() : [0, 0, 0, 0];
      if (ground.told) this.moveTo([(w + e) / 2, (s + n) / 2], false);
    }
    await this.unroll();
  }

  #middle(): [number, number, number, number] {
    const ring = ground.told?.searched_m?.[0];
    if (!ring || ring.length === 0)
      return ground.told?.extent_m as [number, number, number, number];
    const east = ring.map(([e]) => e);
    const north = ring.map(([, n]) => n);
    return [Math.min(...east), Math.min(...north), Math.max(...east), Math.max(...north)];
  }

  /** Stand somewhere else; the horizon follows, the latest place first. */
  moveTo(at: Metres, byHand = true): void {
    this.at = at;
    if (byHand) this.whose = "hand";
    this.#next = at;
    if (!this.#busy) void this.#look();
  }

  turnTo(bearing_deg: number): void {
    if (!this.camera) return;
    this.camera = { ...this.camera, bearing_deg: (bearing_deg + 360) % 360 };
    this.whose = "hand";
  }

  hold(change: Partial<Camera>): void {
    if (!this.camera) return;
    this.camera = { ...this.camera, ...change };
    this.whose = "hand";
    void this.unroll();
  }

  async #look(): Promise<void> {
    this.#busy = true;
    while (this.#next && ground.told) {
      const [east_m, north_m] = this.#next;
      this.#next = null;
      const begun = performance.now();
      const name = ground.told.ground;
      const horizon = await daybook.try(() =>
        told(
          api.GET("/api/ground/{ground}/horizon", {
            params: {
              path: { ground: name },
              query: { east_m, north_m, above_m: this.lens_above_m, count: STEPS },
            },
          }),
        ),
      );
      if (horizon) this.horizon = horizon;
      this.took_ms = performance.now() - begun;
    }
    this.#busy = false;
  }

  /** Unroll the trace through the camera as held; turning only shifts it. */
  async unroll(): Promise<void> {
    const id = plate.id;
    const camera = this.camera;
    if (!id || !camera) return;
    const level = { ...camera, bearing_deg: 0 };
    const wanted = JSON.stringify([
      id,
      level,
      plate.skyline?.runs.length,
      daybook.state?.daybook?.revision,
    ]);
    if (wanted === this.#unrolledFor) return;
    this.#unrolledFor = wanted;
    this.unrolled =
      (await daybook.try(() =>
        told(
          api.POST("/api/plates/{plate_id}/unrolled", {
            params: { path: { plate_id: id } },
            body: level,
          }),
        ),
      )) ?? null;
  }
}

export const stand = new Stand();
