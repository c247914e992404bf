/** @file What the terrain says the plate should show, from where the camera is tried. */
import { api, pictureOf, told, type Schemas } from "../../api/client";
import { daybook } from "../../daybook/daybook.svelte";
import { ground } from "../../map/ground.svelte";
import { stand } from "../../map/stand.svelte";
import { plate } from "../../plate/plate.svelte";

export const WAYS = ["over", "swipe", "beneath", "beside"] as const;
export type Way = (typeof WAYS)[number];

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
  #of = "";
  #asked = 0;
  #drawn = "";

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

  async draw(): Promise<void> {
    const body = this.#body();
    const id = plate.id;
    const wanted = JSON.stringify([id, body]);
    if (!body || !id || this.#drawn === wanted) return;
    this.#drawn = wanted;
    this.drawing = true;
    await daybook.try(async () => {
      const picture = await pictureOf(`/api/plates/${id}/rendering`, body);
      if (this.#drawn !== wanted) return;
      if (this.picture) URL.revokeObjectURL(this.picture);
      this.picture = URL.createObjectURL(picture);
    });
    this.drawing = false;
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
