"""Open what a question names: a plate, its evidence and the ground; and search."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from wherestood.cli.given_lines import given_lines
from wherestood.cli.ground import open_ground
from wherestood.cli.screen import stages, warn
from wherestood.evidence.given import hold_back as held_back
from wherestood.evidence.items import Checked, Evidence, SkylinePiece
from wherestood.evidence.panorama_file import read_evidence_of
from wherestood.evidence.placed import known_heights
from wherestood.evidence.traced_lines import own_skyline
from wherestood.fix.result import Proposed
from wherestood.fix.settings import LocateSettings

if TYPE_CHECKING:
    from wherestood.evidence.items import RidgeLine
    from wherestood.notebook import LocatedPlate
    from wherestood.plate.scan import Plate
    from wherestood.plate.skyline import Skyline, TracedRidge
    from wherestood.terrain.model import Terrain

__all__ = ["Question", "dated", "located", "with_lines"]


@dataclass(frozen=True)
class Question:
    """Hold the files of a question and what is known of its plate."""

    scan: Path
    terrain: tuple[Path, ...]
    within: str
    size: str | None = None
    scan_ppi: float | None = None
    negative: bool | None = None
    skylines: tuple[Path, ...] = ()
    ridge_lines: bool = True
    evidence: Path | None = None
    no_skyline: bool = False
    proposed: tuple[Proposed, ...] = ()
    footing_typed: bool = False
    held_back: tuple[str, ...] = ()
    date: str = ""
    beside: tuple[Path, ...] = ()
    each_own_lens: bool = False


def located(
    question: Question, settings: LocateSettings, *, warnings: bool = True
) -> LocatedPlate:
    """Open everything a question names and search, showing progress."""
    from wherestood import notebook
    from wherestood.fix.area import RING_REACH, read_area
    from wherestood.plate.scan import Plate

    area = read_area(question.within)
    plate = Plate.open(
        question.scan,
        size=question.size,
        scan_ppi=question.scan_ppi,
        trimmed=settings.trimmed,
        negative=question.negative,
    )
    given = given_lines(question.skylines, plate)
    for note in plate.notes:
        warn(f"Note: {note}")
    reach_m = RING_REACH * area.radius_m + settings.horizon_radius_m
    land = open_ground(
        question.terrain, area.centre, reach_m, settings, warnings=warnings
    )
    checked = _told(question, plate, land, warnings=warnings)
    told = held_back(checked.evidence, question.held_back)
    evidence = with_lines(question, plate, dated(question, told), given)
    # What is typed goes before what the evidence file says, the usual included.
    typed = {"footing": settings.footing} if question.footing_typed else {}
    with stages() as shown:
        answer = notebook.locate(
            plate,
            land,
            Checked(evidence, checked.complaints),
            within=area,
            settings=settings,
            proposed=question.proposed,
            progress=shown,
            **typed,
        )
    for complaint in answer.complaints[len(checked.complaints) :]:
        warn(f"Warning: {complaint.problem} {complaint.remedy}")
    return answer


def dated(question: Question, told: Evidence) -> Evidence:
    """Return evidence with the date that was typed, if one was."""
    return replace(told, date=question.date) if question.date else told


def with_lines(
    question: Question,
    plate: Plate,
    told: Evidence,
    given: tuple[Skyline, tuple[TracedRidge, ...]] | None,
) -> Evidence:
    """Return the evidence of a plate with skyline and ridges, handed over or traced."""
    from wherestood import notebook

    skyline = given[0] if given else _own_skyline(question, plate, told)
    if not question.ridge_lines:
        ridges: tuple[RidgeLine, ...] = ()
    elif given and given[1]:
        ridges = notebook.ridges_of(given[1])
    elif told.ridge_lines or skyline is None:
        ridges = ()
    else:
        ridges = notebook.machine_ridges(plate, skyline)
    pieces = told.skylines if skyline is None else (SkylinePiece(skyline),)
    return replace(told, skylines=pieces, ridge_lines=(*told.ridge_lines, *ridges))


def _told(
    question: Question, plate: Plate, land: Terrain, *, warnings: bool
) -> Checked:
    """Read the evidence file, if there is one, and say what is wrong with it."""
    if question.evidence is None:
        return Checked(Evidence(), ())
    checked = read_evidence_of(
        question.evidence,
        {plate.path.stem},
        width_px=plate.width_px,
        height_px=plate.height_px,
        has_height=known_heights(land),
    )
    for complaint in checked.complaints:
        if warnings:
            warn(f"Warning: {complaint}")
    return checked


def _own_skyline(question: Question, plate: Plate, told: Evidence) -> Skyline | None:
    """Trace a skyline, unless the evidence file has one or can do without."""
    if told.skylines or question.no_skyline:
        return None
    with stages() as shown:
        skyline, note = own_skyline(plate, told, shown)
    if note:
        warn(f"Note: {note}")
    return skyline
