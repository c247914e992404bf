"""Add a photograph made again from a plate's station to what is handed out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from wherestood.daybook.precision import FREE
from wherestood.errors import InputError
from wherestood.record.export.handed import HandedPlate
from wherestood.record.export.pictures_of_fix import then_and_now_in

__all__ = ["with_then_and_now"]


def with_then_and_now(plate: HandedPlate, folder: Path) -> HandedPlate:
    """Return a plate with the pictures of a folder of ``wherestood then-and-now``.

    Raises
    ------
    InputError
        If they are not there, or they would tell what of this plate stays out: its
        picture, or the place from which both were made.
    """
    if plate.picture is None or plate.precision != FREE.precision:
        raise InputError(
            f"The then and now of {plate.name} shows its picture, and the place from "
            "which it was taken: one of them stays out here.",
            "Leave its --then-and-now away.",
        )
    return replace(plate, then_and_now=then_and_now_in(folder))
