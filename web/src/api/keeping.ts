/** @file What this window has still to write, so that what depends on it can wait. */

/** Save what waits to be saved; undefined where nothing waits. */
export type Save = () => Promise<unknown> | undefined;

/** What this window writes: how often it began to in all, and what is on its way. */
export const writes = { begun: 0, open: 0 };

const SOON_MS = 20;
const ROUNDS = 3;
const unsaved = new Set<Save>();

/** Have something saved before anything that depends on it; returns what ends that. */
export function keptFirst(save: Save): () => void {
  unsaved.add(save);
  return () => unsaved.delete(save);
}

/** Count what takes several writes as one, from its first to its last. */
export async function asOneWrite<T>(write: () => Promise<T>): Promise<T> {
  writes.open++;
  try {
    return await write();
  } finally {
    writes.open--;
  }
}

/**
 * Save what waits, and wait until all of this window is written.
 *
 * What cannot be kept is told by where it was typed; then this throws, so that nothing is
 * done with less than what the person sees.
 */
export async function allKept(): Promise<void> {
  // What is saved at first may have been changed on meanwhile.
  for (let round = 0; round < ROUNDS; round++) {
    const waits = waiting();
    await Promise.all(waits);
    while (writes.open > 0) await new Promise((soon) => setTimeout(soon, SOON_MS));
    if (waits.length === 0) return;
  }
}

function waiting(): Promise<unknown>[] {
  return [...unsaved].map((save) => save()).filter((one) => one !== undefined);
}

/** Ask before the window closes upon something unsaved, and save it meanwhile. */
export function keepBeforeLeaving(): void {
  addEventListener("beforeunload", (event) => {
    const waits = waiting();
    for (const one of waits) one.catch(() => undefined);
    if (waits.length > 0 || writes.open > 0) event.preventDefault();
  });
}
