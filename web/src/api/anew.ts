/** @file Read anew what changed, so that no earlier answer comes after a later one. */

/**
 * Return what reads something, one reading at a time.
 *
 * Asked while one is on its way it reads once more after it: that may have been answered
 * before what was changed meanwhile. Whoever waits has all that was there on asking.
 */
export function anew(read: () => Promise<void>): () => Promise<void> {
  let again = false;
  let reading: Promise<void> | null = null;

  async function untilNothingIsAsked(): Promise<void> {
    try {
      while (again) {
        again = false;
        await read();
      }
    } finally {
      reading = null;
    }
  }

  return () => {
    again = true;
    return (reading ??= untilNothingIsAsked());
  };
}
