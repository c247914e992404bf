/** @file What is brought to the map: features at once, rasters after a question. */
import { daybook } from "../daybook/daybook.svelte";
import { kindOf } from "../things/dropped";
import { takeFeatures } from "../things/uploads";
import { words } from "../words/en";
import { ground } from "./ground.svelte";
import { brought } from "./brought.svelte";

/** Take features in, and say what became of them. */
export async function bringFeatures(files: File[]): Promise<null> {
  const taken = await daybook.act(() => takeFeatures(files));
  if (!taken) return null;
  brought.told = words.layers.taken(taken.added.length, taken.already_there, taken.refused);
  daybook.said = brought.told;
  await ground.layFeatures();
  return null;
}

/** Take what was dropped on the map itself. */
export async function bringDropped(files: File[]): Promise<void> {
  const kind = kindOf(files.map(({ name }) => name));
  if (kind === "features") await bringFeatures(files);
  else if (kind === "raster") brought.asked = files;
  else if (files.length > 0) brought.told = words.layers.unknown;
}
