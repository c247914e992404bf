import { beforeEach, expect, test, vi } from "vitest";

import type { Thing } from "./things";

interface Sent {
  body: { revision: number } & Record<string, unknown>;
}
const server = vi.hoisted(() => ({
  plate: { id: "p", revision: 5, title: "The mill", note: null as string | null },
  patched: [] as Record<string, unknown>[],
}));

vi.mock("./client", () => {
  class Refused extends Error {
    constructor(
      readonly status: number,
      readonly trouble: { problem: string; remedy: string; field: string },
    ) {
      super(trouble.problem);
    }
  }
  const api = {
    GET: () => Promise.resolve({ ...server.plate }),
    PATCH: (_: string, { body }: Sent) => {
      const { revision, ...values } = body;
      if (revision !== server.plate.revision)
        return Promise.reject(
          new Refused(409, { problem: "changed", remedy: "", field: "revision" }),
        );
      server.patched.push(values);
      server.plate = { ...server.plate, ...values, revision: revision + 1 };
      return Promise.resolve({ ...server.plate });
    },
  };
  return { api, Refused, told: (asked: Promise<unknown>) => asked };
});

const { changeThing, isStale } = await import("./things");
let read: Thing<"plates">;

beforeEach(() => {
  server.patched = [];
  server.plate = { id: crypto.randomUUID(), revision: 5, title: "The mill", note: null };
  read = { ...server.plate } as unknown as Thing<"plates">;
});

test("two changes of one thing, the second sent before the first is answered, both stand", async () => {
  const first = changeThing("plates", read, { title: "Mill" });
  const second = changeThing("plates", read, { note: "torn" });
  await Promise.all([first, second]);
  expect(server.plate).toMatchObject({ title: "Mill", note: "torn", revision: 7 });
});

test("what another window changed besides is no hindrance, and stays", async () => {
  server.plate = { ...server.plate, note: "theirs", revision: 6 };
  await changeThing("plates", read, { title: "Mill" });
  expect(server.plate).toMatchObject({ title: "Mill", note: "theirs" });
});

test("what another window changed itself is not overwritten", async () => {
  server.plate = { ...server.plate, title: "theirs", revision: 6 };
  const late = await changeThing("plates", read, { title: "mine" }).catch((reason) => reason);
  expect(isStale(late)).toBe(true);
  expect(server.plate.title).toBe("theirs");
});
