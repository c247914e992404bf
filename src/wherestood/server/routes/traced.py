"""Answer for lines traced on a plate: the skyline, ridge lines, what the pen finds."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
from fastapi import APIRouter
from numpy.typing import NDArray

from wherestood.camera.model import Camera
from wherestood.daybook import Daybook
from wherestood.daybook.question import main_scan
from wherestood.daybook.skylines import (
    BY_MACHINE,
    keep_skyline,
    line_of,
    lines_on,
    mend_ridge,
    skyline_of_runs,
)
from wherestood.daybook.tables import (
    Evidence,
    Plate,
    Scan,
)
from wherestood.errors import InputError
from wherestood.ground.view import unrolled
from wherestood.plate.scan import Plate as Opened
from wherestood.plate.served.tones import read_tones
from wherestood.plate.skyline import Skyline
from wherestood.plate.snap import snap_line
from wherestood.server.desk import Book, Desk, DeskNeeded, WrittenBook
from wherestood.server.forms.jobs import Job
from wherestood.server.forms.looking import (
    AsRead,
    CameraGiven,
    LineRun,
    RidgeTold,
    SkylineGiven,
    SkylineTold,
    SnapAsked,
    SnappedLine,
    TraceAsked,
    Unrolled,
    UnrolledRun,
)
from wherestood.server.routes.items import Why, item_of
from wherestood.server.troubles import ChangedMeanwhileError, NotThereError

__all__ = ["camera_of", "opened_plate", "router", "runs_of", "skyline_on"]

router = APIRouter(prefix="/api", tags=["looking"])


@router.post("/plates/{plate_id}/trace", operation_id="traceSkyline")
def trace(
    desk: DeskNeeded, book: WrittenBook, plate_id: str, asked: TraceAsked, why: Why = ""
) -> Job:
    """Trace lines by machine; they take the place of those it had traced."""
    with book.reading() as session:
        plate = item_of(session, "plates", plate_id)
        _scan_asked(session, plate, asked.scan_id)
    return desk.jobs.start(
        "trace",
        f"Tracing the {asked.what} of {plate.key}",
        {"plate_id": plate_id, "why": why, **asked.model_dump()},
        person=desk.person,
        plate_id=plate_id,
    )


@router.get("/plates/{plate_id}/skyline", operation_id="getSkyline")
def skyline(book: Book, plate_id: str) -> SkylineTold:
    """Tell the traced skyline and ridge lines of a plate."""
    with book.reading() as session:
        plate = item_of(session, "plates", plate_id)
        scan = main_scan(session, plate)
        lines = lines_on(session, plate_id, "skyline")
        ridges = lines_on(session, plate_id, "ridge_line")
    if scan is None:
        return SkylineTold(
            evidence_id=None, revision=None, by_hand=False, runs=[], ridges=[], more=0
        )
    kept = lines[0] if lines else None
    line = line_of(kept, *_size(scan)) if kept else None
    return SkylineTold(
        evidence_id=kept.id if kept else None,
        revision=kept.revision if kept else None,
        by_hand=kept is not None and kept.source_words != BY_MACHINE,
        runs=runs_of(line) if line else [],
        ridges=[
            RidgeTold(
                evidence_id=one.id,
                key=one.key,
                revision=one.revision,
                trust=one.trust,
                by_machine=one.source_words == BY_MACHINE,
                runs=runs_of(ridge),
            )
            for one in ridges
            if (ridge := line_of(one, *_size(scan))) is not None
        ],
        more=max(len(lines) - 1, 0),
    )


@router.put("/plates/{plate_id}/skyline", operation_id="saveSkyline")
def save_skyline(
    desk: DeskNeeded, book: Book, plate_id: str, given: SkylineGiven, why: Why = ""
) -> SkylineTold:
    """Save a skyline that a person mended or drew; no runs set it aside."""
    with book.writing(desk.person, why or "mended by hand") as session:
        plate = item_of(session, "plates", plate_id)
        scan = _scan_asked(session, plate, given.scan_id)
        there = lines_on(session, plate_id, "skyline")
        _refuse_older(given.read, there[0] if there else None)
        if not any(run.x_px for run in given.runs):
            for one in there:
                one.removed = True
        else:
            line = _line_given(given, scan)
            keep_skyline(session, plate_id, scan.id, line, by_hand=True)
    return skyline(book, plate_id)


@router.put("/plates/{plate_id}/ridges/{evidence_id}", operation_id="saveRidge")
def save_ridge(
    desk: DeskNeeded,
    book: Book,
    plate_id: str,
    evidence_id: str,
    given: SkylineGiven,
    why: Why = "",
) -> SkylineTold:
    """Save a ridge line that a person mended; no runs set it aside."""
    with book.writing(desk.person, why or "mended by hand") as session:
        plate = item_of(session, "plates", plate_id)
        item: Evidence = item_of(session, "evidence", evidence_id)
        if item.plate_id != plate_id or item.kind != "ridge_line":
            raise NotThereError("There is no such ridge line on this plate.")
        _refuse_older(given.read, None if item.removed else item)
        if not any(run.x_px for run in given.runs):
            item.removed = True
        else:
            scan = _scan_asked(session, plate, given.scan_id or item.scan_id)
            mend_ridge(item, _line_given(given, scan))
    return skyline(book, plate_id)


@router.post("/plates/{plate_id}/snap", operation_id="snapLine")
def snap(desk: DeskNeeded, book: Book, plate_id: str, asked: SnapAsked) -> SnappedLine:
    """Find the edge of land and sky between points that a person set."""
    opened = opened_plate(desk, book, plate_id)
    with book.reading() as session:
        scan = main_scan(session, item_of(session, "plates", plate_id))
    assert scan is not None
    copy = desk.scans.tiled(book, scan, negative=opened.negative)
    size = (copy.width_px, copy.height_px)
    line = snap_line(
        partial(read_tones, copy), size, asked.points, reach_px=asked.reach_px
    )
    return SnappedLine(
        x_px=_rounded(line.x_px), y_px=_rounded(line.y_px), sd_px=_rounded(line.sd_px)
    )


@router.post("/plates/{plate_id}/unrolled", operation_id="unrollSkyline")
def unroll(
    desk: DeskNeeded, book: Book, plate_id: str, camera: CameraGiven
) -> Unrolled:
    """Lay the traced skyline over true bearing, through a camera."""
    opened = opened_plate(desk, book, plate_id)
    held = camera_of(camera, opened, 0.0)  # true bearings in, true bearings out
    line = skyline_on(book, plate_id)
    edges, _ = unrolled(
        held,
        np.array([0.0, float(opened.width_px)]),
        np.full(2, opened.height_px / 2.0),
    )
    runs = []
    for run in runs_of(line) if line else []:
        bearing, elevation = unrolled(held, np.array(run.x_px), np.array(run.y_px))
        runs.append(
            UnrolledRun(
                bearing_deg=_rounded(bearing, 4), elevation_deg=_rounded(elevation, 4)
            )
        )
    return Unrolled(runs=runs, edges_deg=(float(edges[0]), float(edges[1])))


def _refuse_older(read: AsRead | None, there: Evidence | None) -> None:
    """Refuse to lay a line over one that the person has not seen."""
    if read is None:
        return
    now = (there.id, there.revision) if there else (None, None)
    if (read.evidence_id, read.revision) != now:
        raise ChangedMeanwhileError(
            "This line was changed meanwhile, in another window or by a task; yours "
            "was not put over it.",
            "It is shown as it is now: draw the last stroke once more.",
        )


def opened_plate(desk: Desk, book: Daybook, plate_id: str) -> Opened:
    """Return the plate's scan, opened.

    Raises
    ------
    NotThereError
        If it has none.
    """
    with book.reading() as session:
        plate = item_of(session, "plates", plate_id)
        scan = main_scan(session, plate)
    if scan is None:
        raise NotThereError("There is no scan of this plate.", "Drag one in.")
    return desk.scans.plate(book, plate, scan)


def skyline_on(book: Daybook, plate_id: str) -> Skyline | None:
    """Return the traced skyline of a plate; None if it has none."""
    with book.reading() as session:
        plate = item_of(session, "plates", plate_id)
        scan = main_scan(session, plate)
        lines: list[Evidence] = lines_on(session, plate_id, "skyline")
    return line_of(lines[0], *_size(scan)) if scan and lines else None


def camera_of(given: CameraGiven, opened: Opened, turn_deg: float) -> Camera:
    """Return a camera; its bearing is the true one less the grid's turn."""
    return Camera(
        np.radians(given.bearing_deg - turn_deg),
        np.radians(given.tilt_deg),
        np.radians(given.roll_deg),
        given.principal_distance_px,
        given.rise_px,
        given.cross_px,
        given.k1,
        opened.width_px,
        opened.height_px,
        given.reversed,
    )


def runs_of(line: Skyline) -> list[LineRun]:
    """Return a line's pieces between gaps."""
    ends = np.flatnonzero(line.break_after) + 1
    pieces = [np.split(values, ends) for values in (line.x_px, line.y_px, line.sd_px)]
    return [
        LineRun(x_px=_rounded(x, 3), y_px=_rounded(y, 3), sd_px=_rounded(sd, 3))
        for x, y, sd in zip(*pieces, strict=True)
        if x.size
    ]


def _rounded(values: NDArray[np.float64], decimals: int = 2) -> list[float]:
    return [float(value) for value in np.round(values, decimals)]


def _scan_asked(session: Any, plate: Plate, scan_id: str | None) -> Scan:
    scan = item_of(session, "scans", scan_id) if scan_id else main_scan(session, plate)
    if scan is None or scan.plate_id != plate.id:
        raise InputError(f"Plate {plate.key} has no such scan.", "Drag one in.")
    found: Scan = scan
    return found


def _line_given(given: SkylineGiven, scan: Scan) -> Skyline:
    runs = [(run.x_px, run.y_px, run.sd_px) for run in given.runs]
    return skyline_of_runs(runs, *_size(scan))


def _size(scan: Scan) -> tuple[int, int]:
    if not scan.width_px or not scan.height_px:
        raise InputError(
            f"The size of scan {scan.key} is not known.", "Take it in anew."
        )
    return scan.width_px, scan.height_px
