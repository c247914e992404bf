"""Trace the lines of a plate by machine, where nobody gave them."""

from __future__ import annotations

from dataclasses import replace

from wherestood.errors import SkylineError
from wherestood.evidence.items import Evidence, RidgeLine, SkylinePiece
from wherestood.evidence.joined import joined_skyline
from wherestood.evidence.ridge_lines import MACHINE_TRUST
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline
from wherestood.progress import SILENT, Progress

__all__ = ["machine_ridges", "own_skyline", "with_traced_lines"]


def machine_ridges(plate: Plate, skyline: Skyline) -> tuple[RidgeLine, ...]:
    """Trace the lines below the skyline where near ground may hide farther ground.

    Returns
    -------
    tuple of RidgeLine
        With the trust that such lines deserve: many are edges of shade or of woods.
    """
    from wherestood.plate.inner_ridges import trace_ridges

    return tuple(
        RidgeLine(
            id=f"ridge line {number}",
            line=line,
            trust=MACHINE_TRUST,
            source="traced by machine",
        )
        for number, line in enumerate(trace_ridges(plate, skyline), start=1)
    )


def own_skyline(
    plate: Plate, told: Evidence, progress: Progress = SILENT
) -> tuple[Skyline | None, str]:
    """Trace a skyline, or say why the other evidence must do without.

    Parameters
    ----------
    plate : Plate
        The plate.
    told : Evidence
        What else is known of it.
    progress : Progress
        Told how far the tracing has come.

    Returns
    -------
    skyline : Skyline or None
    note : str
        Why there is none; empty where there is one.

    Raises
    ------
    SkylineError
        If none can be traced, and there is no other evidence.
    """
    from wherestood.plate.trace import trace_skyline

    try:
        return trace_skyline(plate, progress=progress), ""
    except SkylineError as error:
        if not any(True for _ in told.items()):
            raise
        return None, f"{error.problem} The search goes on by the other evidence."


def with_traced_lines(
    plate: Plate,
    told: Evidence,
    *,
    skyline: bool = True,
    ridge_lines: bool = True,
    progress: Progress = SILENT,
) -> tuple[Evidence, str]:
    """Return evidence with lines traced by machine where it has none of a kind.

    Parameters
    ----------
    plate, told, progress
        As of `own_skyline`.
    skyline, ridge_lines : bool
        Whether they are wanted; ridge lines that were told stay out where not.

    Returns
    -------
    evidence : Evidence
    note : str
        As of `own_skyline`.
    """
    pieces, note = told.skylines, ""
    if skyline and not pieces:
        traced, note = own_skyline(plate, told, progress)
        pieces = () if traced is None else (SkylinePiece(traced),)
    ridges = told.ridge_lines if ridge_lines else ()
    line = joined_skyline(pieces)
    if ridge_lines and not ridges and line is not None:
        # A skyline that was traced before leaves as much to be traced below it.
        ridges = machine_ridges(plate, line)
    return replace(told, skylines=pieces, ridge_lines=ridges), note
