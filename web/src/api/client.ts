/** @file The one door to the server: every type comes from its own description. */
import createClient, { type MaybeOptionalInit } from "openapi-fetch";
import type {
  HttpMethod,
  PathsWithMethod,
  RequiredKeysOf,
  SuccessResponseJSON,
} from "openapi-typescript-helpers";

import type { components, paths } from "./contract";
import { allKept, writes } from "./keeping";

export type Schemas = components["schemas"];
export type Trouble = Schemas["Trouble"];

interface Answer<T> {
  data?: T;
  error?: unknown;
  response: Response;
}
type Init<P extends keyof paths, M extends HttpMethod> = MaybeOptionalInit<
  paths[P],
  M & keyof paths[P]
>;
type Given<I> = RequiredKeysOf<I> extends never ? [I?] : [I];
type Call<M extends HttpMethod> = <P extends PathsWithMethod<paths, M>>(
  path: P,
  ...init: Given<Init<P, M>>
) => Promise<Answer<SuccessResponseJSON<paths[P][M] & Record<string, unknown>>>>;

/** What is posted to be kept, or to take back; most is posted only because it says much. */
const POSTED =
  /^\/api\/(items|marks|undo|redo|plates\/[^/]+\/(letter|said_of_place|visits|drawn)|plans\/[^/]+\/traced)\b/;
/** What goes by all that is written: it waits until this window has written its own. */
const DEPENDS =
  /^\/api\/(daybook\/|handing-out|jobs\/[^/]+\/again|plates\/[^/]+\/(fixes|trace|panorama))\b/;
const posts = ({ method, url }: Request, which: RegExp): boolean =>
  method === "POST" && which.test(new URL(url).pathname);
const isWrite = (request: Request): boolean =>
  request.method === "POST" ? posts(request, POSTED) : request.method !== "GET";

const client = createClient<paths>({ baseUrl: location.origin });
client.use({
  async onRequest({ request }) {
    if (posts(request, DEPENDS)) await allKept();
    if (!isWrite(request)) return;
    writes.begun++;
    writes.open++;
  },
  onResponse({ request }) {
    if (isWrite(request)) writes.open--;
  },
  onError({ request }) {
    if (isWrite(request)) writes.open--;
  },
});

// The client's own types turn pairs into lists of any length; these keep what was written.
export const api = client as unknown as {
  GET: Call<"get">;
  POST: Call<"post">;
  PUT: Call<"put">;
  PATCH: Call<"patch">;
  DELETE: Call<"delete">;
};

/** The server answered, and said no. */
export class Refused extends Error {
  constructor(
    readonly status: number,
    readonly trouble: Trouble,
  ) {
    super(trouble.problem);
  }
}

/** The server did not answer at all. */
export class Gone extends Error {}

/** Return what the server told, or throw {@link Refused} or {@link Gone}. */
export async function told<T>(asked: Promise<Answer<T>>): Promise<T> {
  let answer: Answer<T>;
  try {
    answer = await asked;
  } catch (reason) {
    if (reason instanceof Refused) throw reason;
    throw new Gone(String(reason));
  }
  if (answer.response.ok) return answer.data as T;
  throw new Refused(answer.response.status, troubleIn(answer.error, answer.response.status));
}

/** Read the trouble out of whatever body came with a refusal. */
export function troubleIn(body: unknown, status: number): Trouble {
  if (typeof body === "object" && body !== null && "problem" in body) {
    const { problem, remedy, field } = body as Partial<Trouble>;
    return { problem: String(problem), remedy: remedy ?? "", field: field ?? "" };
  }
  return { problem: `The server refused this (${status}).`, remedy: "", field: "" };
}

/** Ask for a picture by telling what it should show. */
export async function pictureOf(address: string, body: object): Promise<Blob> {
  let answer: Response;
  try {
    answer = await fetch(address, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(body),
    });
  } catch (reason) {
    throw new Gone(String(reason));
  }
  if (answer.ok) return answer.blob();
  throw new Refused(answer.status, troubleIn(await answer.json().catch(() => null), answer.status));
}
