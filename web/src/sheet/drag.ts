/** @file Following a pointer from its press to its release. */

/** Call back for every movement of the pointer that was pressed, and once it is let go. */
export function followPointer(
  event: PointerEvent,
  moved: (move: PointerEvent) => void,
  released: () => void = () => undefined,
): void {
  const held = event.currentTarget as HTMLElement;
  held.setPointerCapture(event.pointerId);
  const gone = new AbortController();
  const { signal } = gone;
  held.addEventListener("pointermove", moved, { signal });
  // The system may take a pointer away, as when a touch becomes a gesture of its own.
  for (const end of ["pointerup", "pointercancel"] as const)
    held.addEventListener(
      end,
      () => {
        gone.abort();
        released();
      },
      { signal },
    );
}
