/** @file One stream of the server's events for all windows: a browser lets a host have six
 * connections, and a stream takes one for as long as it is open. */

export type Heard =
  | { event: "open" }
  | { event: "lost" }
  | { event: "job"; data: unknown }
  | { event: "changed"; data: unknown };

const NAME = "wherestood.events";

/** Hear the server's events, from the one window that holds the stream. */
export class SharedEvents {
  #channel = new BroadcastChannel(NAME);
  #source: EventSource | null = null;

  constructor(private readonly hear: (heard: Heard) => void) {
    this.#channel.addEventListener("message", ({ data }) => hear(data as Heard));
    // Whoever has the lock holds the stream until the window is closed; then the next does.
    void navigator.locks.request(NAME, () => {
      this.#open();
      return new Promise<never>(() => undefined);
    });
  }

  /** Open the stream anew, if this window holds it and it was closed for good. */
  mend(): void {
    if (this.#source?.readyState === EventSource.CLOSED) this.#open();
  }

  #open(): void {
    this.#source?.close();
    const source = new EventSource("/api/events");
    this.#source = source;
    const tell = (heard: Heard): void => {
      this.hear(heard);
      this.#channel.postMessage(heard);
    };
    source.addEventListener("open", () => tell({ event: "open" }));
    source.addEventListener("error", () => tell({ event: "lost" }));
    for (const event of ["job", "changed"] as const)
      source.addEventListener(event, ({ data }) => tell({ event, data: JSON.parse(data) }));
  }
}
