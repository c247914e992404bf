/** @file Where things are written or said: the sources of the daybook. */
import { Listed } from "./listed.svelte";

class Sources extends Listed<"sources"> {
  /** How a source is cited; nothing where none is named. */
  cited(id: string | null): string {
    return this.all.find((one) => one.id === id)?.citation ?? "";
  }
}

export const sources = new Sources("sources", ({ citation }) => citation);
