"""Tell in words what came of a merge, or would."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from wherestood.daybook.counted import counted
from wherestood.daybook.handover.merge import Merged
from wherestood.daybook.handover.settle import Conflict

__all__ = ["MergeTold", "merge_in_words"]


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
    if not (merged.acts or merged.conflicts or merged.files):
        nothing = "There is nothing new in it: all that they did is here."
        return MergeTold((nothing,), ())
    would = "would be " if dry_run else ""
    said = [
        f"Of {counted(merged.acts, 'act')} of theirs: items {would}added "
        f"{merged.added}, changed {merged.changed}, withdrawn {merged.withdrawn}; "
        f"files {would}taken {len(merged.files)}."
    ]
    for renamed in merged.renamed:
        same = " Are they the same?" if renamed.clash else ""
        becomes = "would be" if dry_run else "is"
        said.append(f"  their {renamed.before} {becomes} {renamed.after} here.{same}")
    if merged.left_out:
        said.append(f"  {merged.left_out} changes to what was withdrawn here stay out.")
    outside = [
        f"Note: they left {file} in place; it may not be reached from here."
        for file in merged.outside
    ]
    conflicts = _of_conflicts(merged.conflicts, dry_run=dry_run)
    return MergeTold(tuple(said), (*outside, *conflicts))


def _of_conflicts(conflicts: Sequence[Conflict], *, dry_run: bool) -> Iterator[str]:
    """Say what both changed, and what one set aside while the other worked on it."""
    changed = [one for one in conflicts if one.column != "removed"]
    if changed:
        kept = "would be kept" if dry_run else "was kept, theirs is in a note"
        yield f"Both changed these, each in its own way; ours {kept}:"
    for one in changed:
        label = one.column.removesuffix("_edtf").replace("_", " ")
        yield f"  {one.called}, {label}: {one.ours!r}, theirs {one.theirs!r}"
    aside = [one for one in conflicts if one.column == "removed"]
    if aside:
        kept = "would stay" if dry_run else "stay"
        yield f"One side set these aside while the other worked on them; they {kept}:"
    for one in aside:
        yield f"  {one.called}, set aside {'here' if one.ours else 'by them'}"
