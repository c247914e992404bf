/** @file Which room is open, on which plate: kept in the address, so that a reload stays. */

export const ROOMS = [
  "plates",
  "looking",
  "where",
  "ground",
  "when",
  "leads",
  "visit",
  "handover",
] as const;
export type Room = (typeof ROOMS)[number];

export interface Whereabouts {
  room: Room;
  plateId: string | null;
}

/** Read the part of an address after the hash: `#/looking/0f3a…`. */
export function readRoute(hash: string): Whereabouts {
  const [room, plateId] = hash.replace(/^#\/?/, "").split("/");
  const known = ROOMS.find((name) => name === room) ?? "plates";
  return { room: known, plateId: plateId || null };
}

export function writeRoute({ room, plateId }: Whereabouts): string {
  return plateId ? `#/${room}/${plateId}` : `#/${room}`;
}

class Route {
  #here = $state<Whereabouts>(readRoute(location.hash));

  constructor() {
    addEventListener("hashchange", () => {
      this.#here = readRoute(location.hash);
    });
  }

  get room(): Room {
    return this.#here.room;
  }

  get plateId(): string | null {
    return this.#here.plateId;
  }

  go(room: Room, plateId: string | null = this.#here.plateId): void {
    location.hash = writeRoute({ room, plateId });
  }
}

export const route = new Route();
