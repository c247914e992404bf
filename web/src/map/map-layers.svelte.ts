/** @file What lies under the map's lines: relief, a base map, old plans, contours. */
import { SvelteMap } from "svelte/reactivity";

import { anew } from "../api/anew";
import { api, Refused, told, type Schemas, type Trouble } from "../api/client";
import { listThings } from "../api/things";
import { daybook } from "../daybook/daybook.svelte";
import { stands } from "../plate/plate.svelte";
import type { Relief } from "../sheet/ground-tiles";

export type Plan = Schemas["PlanForm"];
export type BaseMap = NonNullable<Schemas["SettingsTold"]["base_map"]>;

/** How strongly a plan shows when it is first laid out, 0 to 1. */
const FIRST_OPACITY = 0.7;

class MapLayers {
  shown = $state(false);
  relief = $state<Relief | "none">("hillshade");
  contours = $state(true);
  features = $state(true);
  base = $state(false);
  baseOpacity = $state(1);
  /** What is wrong with the base map that was set. */
  baseTrouble = $state<Trouble | null>(null);
  plans = $state.raw<Plan[]>([]);
  /** How strongly each plan shows; those that do not show are not here. */
  opacity = new SvelteMap<string, number>();
  #loaded = false;

  baseMap = $derived(daybook.state?.settings.base_map ?? null);
  /** Somebody on this machine said that it may be asked. */
  baseAgreed = $derived(daybook.state?.base_map_agreed ?? false);
  laidPlans = $derived(this.plans.filter(({ id }) => (this.opacity.get(id) ?? 0) > 0));

  constructor() {
    daybook.onChange((changed) => {
      if (this.#loaded && (changed?.tables.includes("plans") ?? true)) void this.load(true);
    });
  }

  async load(changed = false): Promise<void> {
    if (this.#loaded && !changed) return;
    this.#loaded = true;
    await this.#load();
  }

  readonly #load = anew(async () => {
    const page = await daybook.try(() => listThings("plans", { limit: 200 }));
    if (page) this.plans = page.items.filter((plan) => stands(plan) && plan.file);
  });

  togglePlan(id: string): void {
    if (this.opacity.get(id)) this.opacity.delete(id);
    else this.opacity.set(id, FIRST_OPACITY);
  }

  /** Set a base map, and ask it once; none takes it away. */
  async setBaseMap(base_map: BaseMap | null): Promise<void> {
    this.base = false;
    this.baseTrouble = null;
    await daybook.setSettings({ base_map });
    if (!base_map || daybook.trouble) return;
    try {
      await told(api.GET("/api/base_map"));
      this.base = true;
    } catch (reason) {
      if (reason instanceof Refused) this.baseTrouble = reason.trouble;
      else daybook.show(reason);
    }
  }
}

export const mapLayers = new MapLayers();
