/** @file Items of the daybook: one grammar for every table. */
import { api, Refused, told, type Schemas } from "./client";
import { asOneWrite } from "./keeping";

/** What an item of each table is told as, added with, and changed by. */
export interface Tables {
  plates: [Schemas["PlateForm"], Schemas["PlateNew"], Schemas["PlateChange"]];
  details: [Schemas["DetailForm"], Schemas["DetailNew"], Schemas["DetailChange"]];
  marks: [Schemas["MarkForm"], Schemas["MarkNew"], Schemas["MarkChange"]];
  evidence: [
    Schemas["EvidenceItemForm"],
    Schemas["EvidenceItemNew"],
    Schemas["EvidenceItemChange"],
  ];
  sources: [Schemas["SourceForm"], Schemas["SourceNew"], Schemas["SourceChange"]];
  statements: [Schemas["StatementForm"], Schemas["StatementNew"], Schemas["StatementChange"]];
  dates: [Schemas["DatingForm"], Schemas["DatingNew"], Schemas["DatingChange"]];
  leads: [Schemas["LeadForm"], Schemas["LeadNew"], Schemas["LeadChange"]];
  scans: [Schemas["ScanForm"], never, Schemas["ScanChange"]];
  makers: [Schemas["MakerForm"], Schemas["MakerNew"], Schemas["MakerChange"]];
  plans: [Schemas["PlanForm"], Schemas["PlanNew"], Schemas["PlanChange"]];
  feature_names: [
    Schemas["FeatureNameForm"],
    Schemas["FeatureNameNew"],
    Schemas["FeatureNameChange"],
  ];
  features: [Schemas["FeatureForm"], Schemas["FeatureNew"], Schemas["FeatureChange"]];
  requests: [Schemas["RequestForm"], Schemas["RequestNew"], Schemas["RequestChange"]];
  rights: [Schemas["RightForm"], Schemas["RightNew"], Schemas["RightChange"]];
  restrictions: [
    Schemas["RestrictionForm"],
    Schemas["RestrictionNew"],
    Schemas["RestrictionChange"],
  ];
  notes: [Schemas["NoteForm"], Schemas["NoteNew"], Schemas["NoteChange"]];
  proposed_positions: [
    Schemas["ProposedPositionForm"],
    Schemas["ProposedPositionNew"],
    Schemas["ProposedPositionChange"],
  ];
  decisions: [Schemas["DecisionForm"], Schemas["DecisionNew"], Schemas["DecisionChange"]];
}
export type Table = keyof Tables;
export type Thing<T extends Table> = Tables[T][0];
export type NewThing<T extends Table> = Tables[T][1];
export type ChangeOf<T extends Table> = Partial<Tables[T][2]>;

// The routes of all tables are alike, which TypeScript cannot see through a name that
// is only known when asked: one call, typed by hand here and nowhere else.
const any = api as unknown as Record<
  "GET" | "POST" | "PATCH" | "DELETE",
  (path: string, init: object) => Promise<{ data?: never; error?: unknown; response: Response }>
>;

export function addThing<T extends Table>(
  table: T,
  values: NewThing<T>,
  why = "",
): Promise<Thing<T>> {
  return told(any.POST(`/api/items/${table}`, { body: values, params: { query: { why } } }));
}

/** What this tab wrote last of each item, which may be newer than what is shown. */
const written = new Map<string, { id: string; revision: number }>();
/** Changes of one item go one after another, each knowing of the one before. */
const before = new Map<string, Promise<unknown>>();

function newest<I extends { id: string; revision: number }>(item: I): I {
  const own = written.get(item.id) as I | undefined;
  return own && own.revision > item.revision ? own : item;
}

/** The revision by which something is changed: as it was read, or written here since. */
export function revisionOf(item: { id: string; revision: number }): number {
  return newest(item).revision;
}

/** Note that this tab changed an item by another route. */
export function wrote<I extends { id: string; revision: number }>(item: I): I {
  written.set(item.id, item);
  return item;
}

/** The server has something newer than what was read. */
export function isStale(reason: unknown): boolean {
  return reason instanceof Refused && reason.status === 409 && reason.trouble.field === "revision";
}

/**
 * Change an item as it was read: refused if somebody changed the same of it meanwhile.
 *
 * What they changed besides stays, and is no hindrance.
 */
export function changeThing<T extends Table>(
  table: T,
  item: Thing<T>,
  values: ChangeOf<T>,
  why = "",
): Promise<Thing<T>> {
  const earlier = before.get(item.id) ?? Promise.resolve();
  const mine = asOneWrite(() =>
    earlier.catch(() => undefined).then(() => change(table, item, values, why)),
  );
  before.set(item.id, mine);
  const over = (): void => {
    if (before.get(item.id) === mine) before.delete(item.id);
  };
  mine.then(over, over);
  return mine;
}

async function change<T extends Table>(
  table: T,
  read: Thing<T>,
  values: ChangeOf<T>,
  why: string,
): Promise<Thing<T>> {
  const known = newest(read);
  const path = { item_id: read.id };
  const send = (revision: number): Promise<Thing<T>> =>
    told(
      any.PATCH(`/api/items/${table}/{item_id}`, {
        body: { ...values, revision },
        params: { path, query: { why } },
      }),
    );
  try {
    return wrote(await send(known.revision));
  } catch (reason) {
    if (!isStale(reason)) throw reason;
    const now: Thing<T> = await told<Thing<T>>(
      any.GET(`/api/items/${table}/{item_id}`, { params: { path } }),
    );
    const same = Object.keys(values).every(
      (column) => toldOf(known, column) === toldOf(now, column),
    );
    if (!same) throw reason;
    return wrote(await send(now.revision));
  }
}

function toldOf(item: object, column: string): string {
  return JSON.stringify((item as Record<string, unknown>)[column] ?? null);
}

export function setAside(table: Table, id: string, why = ""): Promise<unknown> {
  return told(
    any.DELETE(`/api/items/${table}/{item_id}`, {
      params: { path: { item_id: id }, query: { why } },
    }),
  );
}

export function changeTogether<T extends Table>(
  table: T,
  ids: string[],
  values: ChangeOf<T>,
): Promise<unknown> {
  return told(any.PATCH(`/api/items/${table}`, { body: { ids, values } }));
}

export function listThings<T extends Table>(
  table: T,
  query: Record<string, string | number | boolean>,
): Promise<{ items: Thing<T>[]; total: number }> {
  return told(any.GET(`/api/items/${table}`, { params: { query } }));
}
