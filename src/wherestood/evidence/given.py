"""Refuse evidence that no search can be made by."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from wherestood.errors import InputError
from wherestood.evidence.items import Evidence, Item, Mark
from wherestood.evidence.items.check import names_like
from wherestood.plate.skyline import SKYLINE_NAMES

__all__ = ["check_names", "hold_back", "require_something"]


def check_names(evidence: Evidence) -> None:
    """Refuse ridge lines that the skyline's file could not tell apart."""
    names = [ridge.id for ridge in evidence.ridge_lines]
    for name in names:
        if name in SKYLINE_NAMES or names.count(name) > 1:
            raise InputError(
                f"A ridge line cannot be named {name!r}: the skyline is, or another.",
                "Give each ridge line an id of its own.",
            )


def require_something(evidence: Evidence) -> None:
    """Refuse a search by nothing."""
    if not any(not _held_back(item) for item in evidence.items()):
        raise InputError(
            "There is no evidence to search by: no skyline, no mark, nothing seen in "
            "line.",
            "Give [wherestood.trace_skyline(plate)], or an evidence file.",
        )


def hold_back(evidence: Evidence, names: Iterable[str]) -> Evidence:
    """Return the evidence with some marks not to count, to test the answer by.

    Raises
    ------
    InputError
        If there is no mark of a name, or it is tied to nothing on the ground.
    """
    wanted = tuple(names)
    known = {mark.id: mark for mark in evidence.marks}
    for name in wanted:
        if name not in known:
            raise InputError(
                f"There is no mark {name!r} to hold back.", names_like(name, known)
            )
        if not known[name].identities:
            raise InputError(
                f"The mark {name!r} is tied to nothing on the ground: it does not "
                "count, and tests nothing.",
                "Hold back a mark of a feature.",
            )
    return replace(
        evidence,
        marks=tuple(
            replace(mark, held_back=True) if mark.id in wanted else mark
            for mark in evidence.marks
        ),
    )


def _held_back(item: Item) -> bool:
    return isinstance(item, Mark) and item.held_back
