"""Tell in words what came of a merge, or would."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from wherestood.daybook.counted import counted
from wherestood.daybook.handover.both import DECISION, Conflict
from wherestood.daybook.handover.merge import Merged
from wherestood.daybook.withdrawn_in_words import withdrawn_in_words

__all__ = ["MergeTold", "merge_in_words"]

_OTHERWISE = (DECISION, "main", "removed")  # told in words of their own


@dataclass(frozen=True)
class MergeTold:
    """Hold sentences about a merge.

    Attributes
    ----------
    said : tuple of str
        What came.
    warned : tuple of str
        What a person should look at.
    """

    said: tuple[str, ...]
    warned: tuple[str, ...]


def merge_in_words(merged: Merged, *, dry_run: bool = False) -> MergeTold:
    """Return what came of a merge, or in a dry run would come of it."""
    kept_out = tuple(_of_withdrawals(merged, dry_run=dry_run))
    if not (merged.acts or merged.conflicts or merged.files):
        nothing = "There is nothing new in it: all that they did is here."
        return MergeTold((nothing,), kept_out)
    would = "would be " if dry_run else ""
    said = [
        f"Of {counted(merged.acts, 'act')} of theirs: items {would}added "
        f"{merged.added}, changed {merged.changed}, withdrawn {merged.withdrawn}; "
        f"files {would}taken {len(merged.files)}."
    ]
    for renamed in merged.renamed:
        same = " Are they the same?" if renamed.clash else ""
        becomes = "would be" if dry_run else "is"
        if renamed.ours:
            now = f"our {renamed.before} {becomes} {renamed.after} now"
        else:
            now = f"their {renamed.before} {becomes} {renamed.after} here"
        said.append(f"  {now}.{same}")
    outside = [
        f"Note: they left {file} in place; it may not be reached from here."
        for file in merged.outside
    ]
    conflicts = _of_conflicts(merged.conflicts, dry_run=dry_run)
    return MergeTold(tuple(said), (*merged.steps, *outside, *kept_out, *conflicts))


def _of_withdrawals(merged: Merged, *, dry_run: bool) -> Iterator[str]:
    """Say what was withdrawn on either side, and what of it the other still holds."""
    kept = merged.kept_out
    if kept.still_held:
        yield (
            "Note: the other copy still holds what was withdrawn here: "
            f"{', '.join(kept.still_held)}. Nothing of it "
            f"{'would come' if dry_run else 'came'} back. To withdraw it there too, "
            "merge this daybook into that copy."
        )
    if merged.left_out:
        yield (
            f"Note: {counted(merged.left_out, 'change')} of theirs to what was "
            "withdrawn here, or about it, "
            f"{'stays' if merged.left_out == 1 else 'stay'} out."
        )
    for name in kept.same_files:
        yield (
            f"Note: their scan {name} is, byte for byte, a file that was withdrawn "
            "here; it stays out."
        )
    if kept.redacted:
        taken = "would be taken" if dry_run else "were taken"
        yield (
            f"Note: words of what was withdrawn here {taken} out of what came: "
            f"{', '.join(kept.redacted)}."
        )
    if kept.still_in:
        yield (
            "Note: words of what was withdrawn here still stand in what "
            f"{'would come' if dry_run else 'came'}: {', '.join(kept.still_in)}."
        )
    for there, here in merged.same_scans:
        yield (
            f"Note: the scan {there} that {'would come' if dry_run else 'came'} is, "
            f"byte for byte, the scan {here} here. Set one of them aside."
        )
    for name in merged.held_here:
        yield (
            f"Note: the scan {name} here is, byte for byte, a file that they withdrew. "
            "Withdraw it too, unless there is leave to keep it."
        )
    for done in merged.withdrawals:
        told = withdrawn_in_words(done)
        yield from (f"They withdrew it: {one}" for one in told.said[:1])
        yield from told.said[1:]
        yield from told.warned


def _of_conflicts(conflicts: Sequence[Conflict], *, dry_run: bool) -> Iterator[str]:
    """Say what both changed, and what one set aside while the other worked on it."""
    changed = [one for one in conflicts if one.column not in _OTHERWISE]
    if changed:
        kept = "would be kept" if dry_run else "was kept, theirs is in a note"
        yield f"Both changed these, each in its own way; ours {kept}:"
    for one in changed:
        label = one.column.removesuffix("_edtf").replace("_", " ")
        yield f"  {one.called}, {label}: {one.ours!r}, theirs {one.theirs!r}"
    decided = [one for one in conflicts if one.column == DECISION]
    if decided:
        yield (
            "Both decided on these plates, and not alike. Both decisions stand beside "
            "each other until a new one replaces them:"
        )
    for one in decided:
        yield f"  {one.called}: here {one.ours}"
        yield f"  {' ' * len(one.called)}  theirs {one.theirs}"
    for one in (one for one in conflicts if one.column == "main"):
        stays = "would stay" if dry_run else "stays"
        yield (
            f"Both have a main scan of one plate: {one.ours} {stays} the main one; "
            f"theirs is {one.theirs}."
        )
    aside = [one for one in conflicts if one.column == "removed"]
    if aside:
        kept = "would not be" if dry_run else "are not"
        yield (
            "One side set these aside while the other worked on them; they "
            f"{kept} set aside:"
        )
    for one in aside:
        yield f"  {one.called}, set aside {'here' if one.ours else 'by them'}"
