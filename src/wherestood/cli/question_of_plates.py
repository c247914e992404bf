"""Open the plates of a panorama that a question names, and search."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wherestood.cli.given_lines import given_lines
from wherestood.cli.ground import open_ground
from wherestood.cli.question import Question, dated, with_lines
from wherestood.cli.screen import stages, warn
from wherestood.errors import InputError
from wherestood.evidence.given import hold_back as held_back
from wherestood.evidence.items import Checked, Evidence
from wherestood.evidence.items.check import names_like
from wherestood.evidence.panorama_file import (
    PanoramaEvidence,
    read_panorama_evidence,
)
from wherestood.evidence.placed import known_heights
from wherestood.fix.settings import LocateSettings

if TYPE_CHECKING:
    from wherestood.panorama import LocatedPanorama
    from wherestood.plate.scan import Plate
    from wherestood.plate.skyline import Skyline, TracedRidge
    from wherestood.terrain.model import Terrain

__all__ = ["located_panorama"]


def located_panorama(
    question: Question, settings: LocateSettings, *, warnings: bool = True
) -> LocatedPanorama:
    """Open the plates of a panorama and search, showing progress."""
    from wherestood import panorama
    from wherestood.fix.area import RING_REACH, read_area
    from wherestood.plate.scan import Plate

    area = read_area(question.within)
    plates = [
        Plate.open(
            scan,
            size=question.size,
            scan_ppi=question.scan_ppi,
            trimmed=settings.trimmed,
            negative=question.negative,
        )
        for scan in (question.scan, *question.beside)
    ]
    lines = _lines_of_each(question, plates)
    for plate in plates:
        for note in plate.notes:
            warn(f"Note: {plate.path.name}: {note}")
    reach_m = RING_REACH * area.radius_m + settings.horizon_radius_m
    land = open_ground(
        question.terrain, area.centre, reach_m, settings, warnings=warnings
    )
    told = _told_of_each(question, plates, land)
    checked = [
        Checked(
            with_lines(question, plate, dated(question, one.evidence), given),
            one.complaints,
        )
        for plate, one, given in zip(plates, told.plates, lines, strict=True)
    ]
    typed = {"footing": settings.footing} if question.footing_typed else {}
    with stages() as shown:
        found = panorama.machine_ties(plates, shown)
        answer = panorama.locate_panorama(
            plates,
            land,
            checked,
            within=area,
            ties=(*told.ties, *found),
            each_own_lens=question.each_own_lens,
            settings=settings,
            proposed=question.proposed,
            progress=shown,
            **typed,
        )
    known = {str(one) for plate in told.plates for one in plate.complaints}
    for complaint in answer.complaints:
        if str(complaint) not in known:
            warn(f"Warning: {complaint.problem} {complaint.remedy}")
    return answer


def _lines_of_each(
    question: Question, plates: list[Plate]
) -> list[tuple[Skyline, tuple[TracedRidge, ...]] | None]:
    """Return the traced lines handed over for each plate of a panorama."""
    files = question.skylines
    if not files:
        return [None] * len(plates)
    if len(files) != len(plates):
        raise InputError(
            f"{len(plates)} plates are given, and {len(files)} skylines.",
            "Give --skyline once for each plate, in the order of the scans, or not at "
            "all.",
        )
    return [
        given_lines((file,), plate) for file, plate in zip(files, plates, strict=True)
    ]


def _told_of_each(
    question: Question, plates: list[Plate], land: Terrain
) -> PanoramaEvidence:
    """Read the evidence file of a panorama, if there is one, and say what is wrong."""
    names = [plate.path.stem for plate in plates]
    if question.evidence is None:
        nothing = Checked(Evidence(), ())
        return PanoramaEvidence((nothing,) * len(plates), (), ())
    told = read_panorama_evidence(
        question.evidence,
        names,
        [(plate.width_px, plate.height_px) for plate in plates],
        known_heights(land),
    )
    for complaint in (
        *told.complaints,
        *(one for plate in told.plates for one in plate.complaints),
    ):
        warn(f"Warning: {complaint}")
    return replace(told, plates=_held_back_of_each(told.plates, question.held_back))


def _held_back_of_each(
    plates: tuple[Checked, ...], names: tuple[str, ...]
) -> tuple[Checked, ...]:
    """Hold marks back on the plates that have them."""
    every = {mark.id for plate in plates for mark in plate.evidence.marks}
    if strange := [name for name in names if name not in every]:
        raise InputError(
            f"There is no mark {strange[0]!r} to hold back.",
            names_like(strange[0], every),
        )
    found = []
    for plate in plates:
        own = {mark.id for mark in plate.evidence.marks}
        here = [name for name in names if name in own]
        found.append(replace(plate, evidence=held_back(plate.evidence, here)))
    return tuple(found)
