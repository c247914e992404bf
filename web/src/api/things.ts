/** @file Items of the daybook: one grammar for every table. */
import { api, told, type Schemas } from "./client";

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
  statements: [Schemas["StatementForm"], Schemas["StatementNew"], Schemas["StatementChange"]];
  dates: [Schemas["DatingForm"], Schemas["DatingNew"], Schemas["DatingChange"]];
  leads: [Schemas["LeadForm"], Schemas["LeadNew"], Schemas["LeadChange"]];
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

export function changeThing<T extends Table>(
  table: T,
  id: string,
  values: ChangeOf<T>,
  why = "",
): Promise<Thing<T>> {
  return told(
    any.PATCH(`/api/items/${table}/{item_id}`, {
      body: values,
      params: { path: { item_id: id }, query: { why } },
    }),
  );
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
