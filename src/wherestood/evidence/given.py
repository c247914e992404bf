"""Refuse evidence that no search can be made by."""

from __future__ import annotations

from wherestood.errors import InputError
from wherestood.evidence.items import Evidence
from wherestood.plate.skyline import SKYLINE_NAMES

__all__ = ["check_names", "require_something"]


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
    if not any(True for _ in evidence.items()):
        raise InputError(
            "There is no evidence to search by: no skyline, no mark, nothing seen in "
            "line.",
            "Give [wherestood.trace_skyline(plate)], or an evidence file.",
        )
