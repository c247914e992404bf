/** @file How far the four steps have been gone, kept while rooms come and go. */
import { plate } from "../plate/plate.svelte";
import { answer } from "./where/answer.svelte";

class Guide {
  /** Somebody held the plate against the ground. */
  held = $state(false);
  /** What was there when the plate was opened: the demo brings an answer. */
  #begun = $state.raw<{ plateId: string; details: number; fixes: number } | null>(null);

  /** Note what is there before anything is done. */
  begin(): void {
    if (!plate.id || !plate.whole || this.#begun?.plateId === plate.id) return;
    this.#begun = {
      plateId: plate.id,
      details: plate.details.length,
      fixes: plate.fixes.length,
    };
    this.held = false;
  }

  /** Which steps are done: skyline, letter, answer, against the ground. */
  get done(): boolean[] {
    const answers = plate.fixes.length;
    const lettered = plate.details.length;
    const begun = this.#begun ?? { details: lettered, fixes: answers };
    // An answer that does not know of what was read since is to be asked for again.
    const stale = answers <= begun.fixes && (lettered > begun.details || answer.changed.length > 0);
    // A run that was given no skyline traced one itself.
    // The answer that the demo brings knows of nothing that somebody lettered.
    const asked = answers > 0 && lettered > 0 && !stale;
    return [plate.lines.length > 0 || answers > 0, lettered > 0, asked, asked && this.held];
  }
}

export const guide = new Guide();
