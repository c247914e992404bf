/** @file What holds for dates in the daybook's country: its calendar, periods and signs. */
import { api, told, type Schemas } from "../../api/client";
import { daybook } from "../../daybook/daybook.svelte";

export type Region = Schemas["RegionTold"];
type Change = Partial<Schemas["RegionChange"]>;

class KeptRegion {
  told = $state.raw<Region | null>(null);

  async ask(): Promise<void> {
    await daybook.try(async () => {
      this.told = await told(api.GET("/api/region"));
    });
  }

  /** Keep some of it; throws what is refused. */
  async change(change: Change): Promise<void> {
    this.told = await told(api.PATCH("/api/region", { body: change as Schemas["RegionChange"] }));
  }

  /** Keep some of it; what is refused leaves it as it was, and is shown. */
  async keep(change: Change): Promise<boolean> {
    const kept = await daybook.act(() =>
      told(api.PATCH("/api/region", { body: change as Schemas["RegionChange"] })),
    );
    if (kept) this.told = kept;
    return kept !== undefined;
  }
}

export const region = new KeptRegion();
