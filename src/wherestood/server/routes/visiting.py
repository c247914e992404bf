"""Answer for the field sheet, and take in what was read on a visit."""

from __future__ import annotations

import math
import tempfile
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Annotated, Any

import numpy as np
from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from sqlalchemy import select

from wherestood.daybook import Daybook
from wherestood.daybook.keep_visit import keep_visit
from wherestood.daybook.near_things import near_things
from wherestood.daybook.tables import Fix
from wherestood.daybook.visits_kept import tripods_told
from wherestood.errors import InputError
from wherestood.ground.mapping import Mapping
from wherestood.record.mapping_json import mapping_of_fix, station_of
from wherestood.server.desk import Book, Desk, DeskNeeded, WrittenBook
from wherestood.server.forms.visiting import (
    ClearSpotTold,
    Fact,
    FilledRead,
    PairTold,
    ReadingGiven,
    SheetPlaceTold,
    SheetTold,
    VisitGiven,
    VisitKept,
)
from wherestood.server.plate_ground import ground_of
from wherestood.server.routes.items import Why, item_of
from wherestood.server.routes.traced import opened_plate
from wherestood.server.troubles import NotThereError
from wherestood.visit.field_sheet import CAUTIONS, FieldSheet, field_sheet
from wherestood.visit.filled_sheet import blank_sheet, read_filled
from wherestood.visit.gpx import gpx_text
from wherestood.visit.like_light import sun_said
from wherestood.visit.pair_words import pair_sentences
from wherestood.visit.read_on_spot import Reading, Visit, checked_reading
from wherestood.visit.sheet_page import lens_words
from wherestood.visit.write_sheet import SHEET_FILES, write_sheet

__all__ = ["router"]

router = APIRouter(prefix="/api/plates", tags=["visit"])
#: The same fix gives the same sheet.
_SEED = 1
_LARGEST_BYTES = 5_000_000
_KINDS = {
    ".pdf": "application/pdf",
    ".html": "text/html",
    ".gpx": "application/gpx+xml",
    ".csv": "text/csv",
}
_METRES_A_DEGREE = 111_320.0


@dataclass(frozen=True)
class _Sheet:
    fix: str
    made: FieldSheet
    mapping: Mapping


@router.get("/{plate_id}/field_sheet", operation_id="getFieldSheet")
def sheet(
    desk: DeskNeeded,
    book: Book,
    plate_id: str,
    place: Annotated[int, Query(ge=0)] = 0,
    day: date | None = None,
    light: str | None = None,
) -> SheetTold:
    """Tell what it takes to stand on the spot again, by a plate's newest fix."""
    told = _made(desk, book, plate_id, place, day, light)
    made = told.made
    return SheetTold(
        fix=told.fix,
        caution=made.caution,
        day=made.day,
        places=[
            SheetPlaceTold(
                number=one.number,
                probability=one.probability,
                wgs84=one.wgs84,
                grid=one.grid,
                height=one.height,
                east_m=one.east_m,
                north_m=one.north_m,
            )
            for one in made.places
        ],
        facts=[Fact(name=name, words=words) for name, words in made.facts],
        pairs=[
            PairTold(
                far=pair.far.name,
                near=pair.near.name,
                gap_deg=math.degrees(pair.gap_rad),
                m_per_deg=pair.m_per_deg,
                m_per_finger=pair.m_per_finger,
                px_per_m=pair.px_per_m,
                far_px=(pair.far.x_px, pair.far.y_px),
                near_px=(pair.near.x_px, pair.near.y_px),
                sentences=pair_sentences(pair, sd),
            )
            for pair, sd in zip(made.pairs, made.gap_sds_rad, strict=True)
        ],
        lenses=lens_words(made),
        light=list(made.light),
        visits=list(made.visits),
        notes=list(made.notes),
        clear_spots=[
            ClearSpotTold(
                east_m=here.east_m + spot.east_m,
                north_m=here.north_m + spot.north_m,
                away_m=spot.away_m,
                share=spot.share,
            )
            for here in made.places[:1]
            for spot in made.spots
        ],
        cautions=list(CAUTIONS),
        files=list(SHEET_FILES),
    )


@router.get(
    "/{plate_id}/field_sheet/{name}",
    operation_id="saveFieldSheet",
    response_class=Response,
)
def file(
    desk: DeskNeeded,
    book: Book,
    plate_id: str,
    name: str,
    place: Annotated[int, Query(ge=0)] = 0,
    day: date | None = None,
    light: str | None = None,
) -> Response:
    """Make the sheet's files and give one: pages, a phone's page, waypoints, blanks."""
    if name not in SHEET_FILES:
        raise NotThereError("There is no such file of a field sheet.")
    told = _made(desk, book, plate_id, place, day, light)
    if name.endswith((".gpx", ".csv")):
        frame = told.mapping.ground.model.terrain.frame
        made = told.made
        gaps = [(pair.far.name, pair.near.name) for pair in made.pairs]
        text = (
            gpx_text(made, frame)
            if name.endswith(".gpx")
            else blank_sheet(gaps, str(made.day))
        )
        content = text.encode("utf-8")
    else:
        plate = opened_plate(desk, book, plate_id)
        same = (plate.width_px, plate.height_px) == told.mapping.scan_px
        with tempfile.TemporaryDirectory() as passing:
            folder = Path(passing) / "sheet"
            write_sheet(folder, told.made, told.mapping, plate if same else None)
            content = (folder / name).read_bytes()
    return Response(
        content,
        media_type=_KINDS[Path(name).suffix],
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


@router.post("/{plate_id}/visits/read", operation_id="readFilledSheet")
async def read(book: Book, plate_id: str, request: Request) -> FilledRead:
    """Read a filled sheet, CSV or GPX, that comes as the body; keep nothing."""
    with book.reading() as session:
        item_of(session, "plates", plate_id)
    content = b""
    async for part in request.stream():
        content += part
        if len(content) > _LARGEST_BYTES:
            raise InputError(
                "The file is too large for a filled sheet.", "Name another."
            )
    with tempfile.TemporaryDirectory() as passing:
        path = Path(passing) / "sheet"
        path.write_bytes(content)
        readings, passed_over = read_filled(path)
    visit = Visit.of(readings, date.min, "") if readings else None
    return FilledRead(
        day=None if visit is None or visit.day == date.min else visit.day,
        who=visit.who if visit else "",
        readings=[_given(one) for one in (visit.readings if visit else ())],
        passed_over=passed_over,
    )


@router.post("/{plate_id}/visits", operation_id="keepVisit")
def keep(
    desk: DeskNeeded,
    book: WrittenBook,
    plate_id: str,
    given: VisitGiven,
    why: Why = "",
) -> VisitKept:
    """Keep what was read on a visit: evidence for the next fix, and notes."""
    with book.reading() as session:
        key = item_of(session, "plates", plate_id).key
    readings = [
        checked_reading(Reading(**one.model_dump(), where=f"Row {number}"))
        for number, one in enumerate(given.readings, start=1)
    ]
    visit = Visit.of(readings, given.day, given.who or desk.person)
    return VisitKept(**asdict(keep_visit(book, key, visit, desk.person, why)))


def _given(one: Reading) -> ReadingGiven:
    told = asdict(one)
    told.pop("where")
    return ReadingGiven(**told)


def _made(
    desk: Desk,
    book: Daybook,
    plate_id: str,
    place: int,
    day: date | None,
    light: str | None,
) -> _Sheet:
    with book.reading() as session:
        plate = item_of(session, "plates", plate_id)
        called = {"plate": plate.key, "title": plate.title or ""}
        newest = select(Fix).where(
            Fix.plate_id == plate_id, Fix.removed.is_(False), Fix.withdrawn.is_(None)
        )
        fix = session.scalars(newest.order_by(Fix.made.desc()).limit(1)).first()
        if fix is None or not fix.answer:
            raise NotThereError(
                "Nobody knows yet where this plate was taken.", "Look for it in Where."
            )
        visits = tripods_told(session, fix)
    form: dict[str, Any] = fix.answer
    ground, _ = ground_of(desk, book, plate_id)
    mapping = mapping_of_fix(form, ground.terrain, model=ground.model).at_place(place)
    station = station_of(form, place)
    sun = sun_said(light, station["lon"], station["lat"]) if light else None
    made = field_sheet(
        form,
        mapping,
        near_things(book, mapping.ground.model.terrain.frame, station, plate_id),
        day or date.today(),
        np.random.default_rng(_SEED),
        sun_deg=sun,
        visits=visits,
        fix=fix.key,
        **called,
    )
    return _Sheet(fix.key, made, mapping)
