/** @file What the terrain says the plate should show, from where the camera is tried. */
import { api, pictureOf, told, type Schemas } from "../../api/client";
import { daybook } from "../../daybook/daybook.svelte";
import { ground } from "../../map/ground.svelte";
import { stand } from "../../map/stand.svelte";
import { plate } from "../../plate/plate.svelte";

export const WAYS = ["over", "swipe", "beneath", "beside"] as const;
export type Way = (typeof WAYS)[number];

/** Longest side of the picture while a camera is dragged, and at rest [px]. */
const MOVING_PX = 480;
const RESTING_PX = 1200;

class Against {
  way = $state<Way>("over");
  opacity = $state(0.5);
  swipe = $state(0.5);
  withNames = $state(true);
  withHidden = $state(false);
  view = $state.raw<Schemas["ViewTold"] | null>(null);
  /** Address of the shaded picture, made by the server and held by the page. */
  picture = $state<string | null>(null);
  drawing = $state(false);
  haze = $state(true);
  ridgeLines = $state(true);
  /** Which old plan lies over the ground, by its id. */
  draped = $state("");
  #following = false;
  #movedOn = false;
  #of = "";
  #asked = 0;
  #drawn = "";
  #drawnPx = 0;

  /** Ask what stands where the camera stands now. */
  async look(): Promise<void> {
    const body = this.#body();
    const id = plate.id;
    if (!body || !id) return;
    if (id !== this.#of) {
      this.#of = id;
      this.view = null;
      if (this.picture) URL.revokeObjectURL(this.picture);
      this.picture = null;
    }
    const asked = ++this.#asked;
    const view = await daybook.try(() =>
      told(api.POST("/api/plates/{plate_id}/view", { params: { path: { plate_id: id } }, body })),
    );
    if (view && asked === this.#asked) this.view = view;
    await this.draw();
  }

  /** While the camera is dragged draw small pictures, always of where it is by then. */
  async follow(): Promise<void> {
    this.#movedOn = true;
    if (this.#following) return;
    this.#following = true;
    while (this.#movedOn) {
      this.#movedOn = false;
      await this.draw(MOVING_PX);
    }
    this.#following = false;
  }

  async draw(px = RESTING_PX): Promise<void> {
    const body = this.#body();
    const id = plate.id;
    const asked = new URLSearchParams({
      px: String(px),
      haze: String(this.haze),
      ridge_lines: String(this.ridgeLines),
      plan_id: this.draped,
    });
    const of = JSON.stringify([id, body, this.haze, this.ridgeLines, this.draped]);
    if (!body || !id || (this.#drawn === of && this.#drawnPx >= px)) return;
    this.#drawn = of;
    this.#drawnPx = px;
    this.drawing = px === RESTING_PX;
    await daybook.try(async () => {
      const picture = await pictureOf(`/api/plates/${id}/rendering?${asked}`, body);
      if (this.#drawn !== of || this.#drawnPx !== px) return;
      if (this.picture) URL.revokeObjectURL(this.picture);
      this.picture = URL.createObjectURL(picture);
    });
    if (px === RESTING_PX) this.drawing = false;
  }

  #body(): Schemas["ViewAsked"] | null {
    if (!stand.at || !stand.camera || !ground.told) return null;
    const [east_m, north_m] = stand.at;
    return {
      east_m,
      north_m,
      above_m: stand.lens_above_m,
      camera: $state.snapshot(stand.camera),
    } as Schemas["ViewAsked"];
  }
}

export const against = new Against();
