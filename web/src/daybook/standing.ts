/** @file In one sentence, where a case stands. */
import type { Schemas } from "../api/client";
import { shareTraced, type Run } from "../plate/lines";
import { words } from "../words/en";
import { length, type Units } from "../words/units";

/** Say what is there and what the answer is, shortest first. */
export function standing(
  whole: Schemas["PlateWhole"],
  skyline: Run[],
  width_px: number,
  units: Units = "metric",
): string {
  const s = words.standing;
  if (!whole.look) return s.noScan;
  const tied = whole.marks.filter(
    (mark) =>
      !mark.removed &&
      ((mark.features?.length ?? 0) > 0 ||
        whole.details.some(({ id, feature_id }) => id === mark.detail_id && feature_id)),
  ).length;
  const evidence: string[] = [];
  if (skyline.length > 0 && width_px > 0) evidence.push(s.traced(shareTraced(skyline, width_px)));
  if (tied > 0) evidence.push(s.tied(tied));
  // What is seen on another plate too joins plates, and says nothing of this one alone.
  const others = whole.evidence.filter(
    ({ removed, kind }) => !removed && kind !== "skyline" && kind !== "tie",
  ).length;
  if (others > 0) evidence.push(s.others(others));
  const decision = whole.decisions
    .filter((d) => !d.removed && !superseded(d, whole.decisions))
    .at(-1);
  const fix = whole.fixes
    .filter((f) => !f.removed)
    .toSorted((a, b) => b.made.localeCompare(a.made))[0];
  const answer = decision
    ? s.decided(decision.conclusion, decision.decided_by)
    : fix
      ? s.verdict(fix.verdict, length(fix.near_enough_m ?? 125, units, 3))
      : (whole.ready.missing[0]?.sentence ?? s.readyToRun);
  // A run can read the skyline by itself: then nothing is missing, only nobody has looked.
  const nothing = fix ? s.nothingByHand : s.nothingYet;
  const then = answer.charAt(0).toLowerCase() + answer.slice(1);
  return `${evidence.join(", ") || nothing}; ${then}`.replace(/\.?$/, ".");
}

function superseded(one: { id: string }, all: { supersedes_id: string | null }[]): boolean {
  return all.some(({ supersedes_id }) => supersedes_id === one.id);
}
