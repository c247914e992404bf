"""Answer for what is read off a plate: skyline, letters, marks, ties."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
from fastapi import APIRouter
from numpy.typing import NDArray
from pydantic import BaseModel
from sqlalchemy import select

from wherestood.camera.model import Camera
from wherestood.daybook import Daybook
from wherestood.daybook.gazetteer import offered_features
from wherestood.daybook.gazetteer.offer import years_of_plate
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
    Detail,
    Evidence,
    Feature,
    FeatureName,
    Mark,
    Plate,
    Scan,
    Statement,
)
from wherestood.errors import InputError
from wherestood.ground.view import unrolled
from wherestood.plate.scan import Plate as Opened
from wherestood.plate.served.tones import read_tones
from wherestood.plate.skyline import Skyline
from wherestood.plate.snap import snap_line
from wherestood.server.desk import Book, Desk, DeskNeeded
from wherestood.server.forms.items import ITEM_FORMS
from wherestood.server.forms.jobs import Job
from wherestood.server.forms.looking import (
    CameraGiven,
    Lettered,
    LineRun,
    OfferedFeature,
    RidgeTold,
    SaidOfPlace,
    SkylineGiven,
    SkylineTold,
    SnapAsked,
    SnappedLine,
    Tied,
    TraceAsked,
    Unrolled,
    UnrolledRun,
)
from wherestood.server.routes.items import Why, item_of, tell
from wherestood.server.troubles import NotThereError

__all__ = ["camera_of", "router", "runs_of", "skyline_on"]

router = APIRouter(prefix="/api", tags=["looking"])
_Detail: Any = ITEM_FORMS["details"].whole
_Mark: Any = ITEM_FORMS["marks"].whole
_Statement: Any = ITEM_FORMS["statements"].whole


@router.post("/plates/{plate_id}/trace", operation_id="traceSkyline")
def trace(
    desk: DeskNeeded, book: Book, plate_id: str, asked: TraceAsked, why: Why = ""
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
        return SkylineTold(evidence_id=None, by_hand=False, runs=[], ridges=[], more=0)
    kept = lines[0] if lines else None
    line = line_of(kept, *_size(scan)) if kept else None
    return SkylineTold(
        evidence_id=kept.id if kept else None,
        by_hand=kept is not None and kept.source_words != BY_MACHINE,
        runs=runs_of(line) if line else [],
        ridges=[
            RidgeTold(
                evidence_id=one.id,
                key=one.key,
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
        if not any(run.x_px for run in given.runs):
            for one in lines_on(session, plate_id, "skyline"):
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


@router.get("/plates/{plate_id}/offered", operation_id="offerFeatures")
def offered(
    book: Book, plate_id: str, all_of_them: bool = False
) -> list[OfferedFeature]:
    """Offer the features that stood, or may have stood, when it was exposed."""
    with book.reading() as session:
        plate = item_of(session, "plates", plate_id)
        years = years_of_plate(session, plate)
        ids = dict(session.execute(select(Feature.key, Feature.id)).all())
        return [
            OfferedFeature(
                feature_id=ids[one.key],
                key=one.key,
                names=list(one.names),
                what=one.what,
                standing=one.standing,
                sentence=one.sentence,
            )
            for one in offered_features(session, years, all_of_them=all_of_them)
        ]


class LetteredTold(BaseModel):
    """Be a detail and its mark."""

    detail: _Detail
    mark: _Mark | None


@router.post(
    "/plates/{plate_id}/letter",
    operation_id="letterDetail",
    response_model=LetteredTold,
)
def letter(
    desk: DeskNeeded, book: Book, plate_id: str, given: Lettered, why: Why = ""
) -> dict[str, Any]:
    """Letter a thing seen and mark it, in one act."""
    with book.writing(desk.person, why) as session:
        plate = item_of(session, "plates", plate_id)
        scan = main_scan(session, plate)
        detail = Detail(
            plate_id=plate_id,
            key=given.key or None,
            scan_id=scan.id if scan else None,
            what=given.what,
            note=given.note,
            crop_px=list(given.crop_px) if given.crop_px else None,
            feature_id=given.feature_id,
            identified_by=given.identified_by,
        )
        session.add(detail)
        session.flush()
        mark = None
        if given.points_px:
            mark = Mark(
                plate_id=plate_id,
                scan_id=scan.id if scan else None,
                detail_id=detail.id,
                key=_free_mark(session, plate_id, detail.key),
                shape=given.shape,
                points_px=[list(point) for point in given.points_px],
                sd_px=given.sd_px,
                at=given.at,
            )
            session.add(mark)
            session.flush()
        return {
            "detail": tell(session, detail),
            "mark": tell(session, mark) if mark else None,
        }


@router.post("/marks/{mark_id}/tie", operation_id="tieMark", response_model=_Mark)
def tie(
    desk: DeskNeeded, book: Book, mark_id: str, given: Tied, why: Why = ""
) -> dict[str, Any]:
    """Tie a mark to a feature, there already or made in the same act."""
    with book.writing(desk.person, why) as session:
        mark: Mark = item_of(session, "marks", mark_id)
        detail = session.get(Detail, mark.detail_id) if mark.detail_id else None
        if given.untie:
            mark.features = None
            if detail is not None:
                detail.feature_id = None
        else:
            feature = _feature(session, given)
            mark.features = [{"feature": feature.key, "weight": 1.0}]
            if detail is not None:
                detail.feature_id = feature.id
                detail.identified_by = detail.identified_by or desk.person
            if given.at is not None:
                mark.at = given.at
        session.flush()
        return tell(session, mark)


@router.post(
    "/plates/{plate_id}/said_of_place",
    operation_id="sayOfPlace",
    response_model=_Statement,
)
def said_of_place(
    desk: DeskNeeded, book: Book, plate_id: str, given: SaidOfPlace, why: Why = ""
) -> dict[str, Any]:
    """Keep a statement of place and the place it names, in one act."""
    with book.writing(desk.person, why) as session:
        item_of(session, "plates", plate_id)
        feature = Feature(
            what=given.what or "place named",
            geometry=given.geometry,
            source_words="drawn on the map",
        )
        session.add(feature)
        session.flush()
        said = Statement(
            plate_id=plate_id,
            about="place",
            words=given.words,
            feature_id=feature.id,
            place=given.place,
            within_m=given.within_m,
            weight=given.weight,
        )
        session.add(said)
        session.flush()
        return tell(session, said)


def _feature(session: Any, given: Tied) -> Feature:
    if given.feature_id is not None:
        found: Feature = item_of(session, "features", given.feature_id)
        return found
    if given.lon_deg is None or given.lat_deg is None:
        raise InputError(
            "Nothing says which feature the mark is.",
            "Click a feature on the map, or the place where it stands.",
        )
    feature = Feature(
        what=given.what,
        geometry={"type": "Point", "coordinates": [given.lon_deg, given.lat_deg]},
        sd_m=given.sd_m,
        height_m=given.height_m,
        object_height_m=given.object_height_m,
        source_words="pointed at on the map",
    )
    session.add(feature)
    session.flush()
    if given.name:
        session.add(FeatureName(feature_id=feature.id, name=given.name))
    return feature


def _free_mark(session: Any, plate_id: str, letter_of: str) -> str | None:
    """Call a mark by its detail's letter, where that is free."""
    wanted = select(Mark.key).where(Mark.plate_id == plate_id, Mark.key == letter_of)
    return letter_of if session.scalars(wanted).first() is None else None


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
