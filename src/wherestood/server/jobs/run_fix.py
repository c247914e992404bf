"""Find where a plate was taken, and keep the answer in the daybook."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

from wherestood import notebook
from wherestood.daybook import Daybook
from wherestood.daybook.question import PlateRead, read_plate, settings_for
from wherestood.daybook.searched import area_searched
from wherestood.daybook.tell_evidence import ToldEvidence
from wherestood.errors import InputError, SkylineError
from wherestood.evidence.file import read_evidence
from wherestood.evidence.items import Checked, Evidence, SkylinePiece
from wherestood.evidence.joined import joined_skyline
from wherestood.evidence.placed import known_heights
from wherestood.fix.area import Area
from wherestood.fix.settings import LocateSettings
from wherestood.notebook import LocatedPlate
from wherestood.plate.scan import Plate
from wherestood.plate.trace import trace_skyline
from wherestood.progress import Progress
from wherestood.server.forms.jobs import JobResult
from wherestood.server.keep_answer import RING_REACH, keep_answer
from wherestood.server.scans import opened_scan
from wherestood.terrain.model import Terrain
from wherestood.terrain.read import open_terrain

__all__ = ["run_fix"]

#: What of the asking is kept with the fix, where it is not as usual.
_KEPT_ASKED = ("without", "without_statements", "no_skyline")


def run_fix(
    asked: dict[str, Any], daybook: str | None, progress: Progress
) -> JobResult:
    """Run a fix of a plate as its items stand now."""
    if daybook is None:
        raise InputError("No daybook is open.", "Open one first.")
    with Daybook.open(daybook) as book:
        read = read_plate(book, asked["plate_id"])
        read = replace(read, told=_counting(read.told, asked))
        settings = settings_for(
            read,
            near_enough_m=asked.get("near_enough_m"),
            horizon_radius_m=float(asked.get("horizon_radius_m", 30_000.0)),
            refraction=float(asked.get("refraction", 0.13)),
            seed=int(asked.get("seed", 1)),
        )
        area = area_searched(read.plate)
        if area is None:
            raise InputError(
                "Nothing says where to search.",
                "Draw a rough circle on the map, or give two coordinates.",
            )
        answer, notes = _located(book, read, area, settings, asked, progress)
        kept = keep_answer(
            book,
            read,
            answer,
            asked["person"],
            asked.get("why", ""),
            without=asked.get("without") or (),
            more={name: asked[name] for name in _KEPT_ASKED if asked.get(name)},
            progress=progress,
        )
    return JobResult(
        fix_id=kept.id,
        plate_ids=[read.plate.id],
        notes=[*read.told.left_out, *notes],
    )


def _located(
    book: Daybook,
    read: PlateRead,
    area: Area,
    settings: LocateSettings,
    asked: dict[str, Any],
    progress: Progress,
) -> tuple[LocatedPlate, list[str]]:
    """Search; return the answer, and what a person should know."""
    plate = opened_scan(book, read.plate, read.scan)
    reach_m = RING_REACH * area.radius_m + settings.horizon_radius_m
    land = open_terrain(
        read.terrain,
        around=area.centre,
        radius_m=reach_m,
        surface=settings.surface,
        refraction=settings.refraction,
        progress=progress,
    )
    checked = _checked(read.told, plate, land)
    told, notes = _with_lines(checked.evidence, plate, asked, progress)
    # What the plate says goes before what its evidence does, the usual included.
    typed: dict[str, Any] = {}
    if read.plate.footing is not None:
        typed["footing"] = settings.footing
    answer = notebook.locate(
        plate,
        land,
        Checked(told, checked.complaints),
        within=area,
        settings=settings,
        proposed=read.proposed,
        progress=progress,
        **typed,
    )
    return answer, [*notes, *(str(complaint) for complaint in answer.complaints)]


def _counting(told: ToldEvidence, asked: dict[str, Any]) -> ToldEvidence:
    """Return what counts: all but what was left out for this run."""
    out = set(asked.get("without") or ())
    names = set()
    for item in told.items:
        if item.id in out:
            more: Any = getattr(item, "more", None)
            names.add((more or {}).get("id") or getattr(item, "key", item.id))
    document: dict[str, Any] = {}
    for table, rows in told.document.items():
        if table == "statement" and asked.get("without_statements"):
            continue
        if table == "skyline" and asked.get("no_skyline"):
            continue
        if table == "camera" and "camera" in names:
            continue
        if not isinstance(rows, list) or table in ("feature", "plan", "ground_from"):
            document[table] = rows
            continue
        kept = [row for row in rows if row.get("id") not in names]
        if kept:
            document[table] = kept
    if "ground_from" in document and "statement" not in document:
        document.pop("ground_from")
    return replace(told, document=document)


def _checked(told: ToldEvidence, plate: Plate, land: Terrain) -> Checked:
    if told.is_empty:
        return Checked(Evidence(), ())
    with tempfile.TemporaryDirectory() as folder:
        return read_evidence(
            told.write(Path(folder)),
            width_px=plate.width_px,
            height_px=plate.height_px,
            has_height=known_heights(land),
        )


def _with_lines(
    told: Evidence, plate: Plate, asked: dict[str, Any], progress: Progress
) -> tuple[Evidence, list[str]]:
    """Trace what no person traced: the skyline, and ridge lines below it."""
    notes: list[str] = []
    skyline = None
    if not told.skylines and not asked.get("no_skyline"):
        try:
            skyline = trace_skyline(plate, progress=progress)
        except SkylineError as error:
            if not any(True for _ in told.items()):
                raise
            notes.append(f"{error.problem} The search went on by the other evidence.")
    if skyline is not None:
        told = replace(told, skylines=(SkylinePiece(skyline),))
    line = joined_skyline(told.skylines)
    if asked.get("ridge_lines", True) is False:
        told = replace(told, ridge_lines=())
    elif line is not None and not told.ridge_lines:
        # A skyline that was traced before leaves as much to be traced below it.
        told = replace(told, ridge_lines=notebook.machine_ridges(plate, line))
    if not any(True for _ in told.items()):
        raise InputError(
            "There is no evidence to go by: nothing is traced or marked that counts.",
            "Trace the skyline, or mark things and tie them to the map.",
        )
    return told, notes
