"""Answer for runs and what came of them."""

from __future__ import annotations

import json
from typing import Annotated, Any

import numpy as np
import pyproj
import pyvips
import shapely
from fastapi import APIRouter, Query
from fastapi.responses import FileResponse, JSONResponse, Response
from pydantic import ValidationError
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook import Daybook
from wherestood.daybook.changed_since import changed_since
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.keep_answer import SCREEN, folder_of_fix
from wherestood.daybook.precision import restricted
from wherestood.daybook.tables import ITEMS, Fix, FixInput, OnPlate, Plate, Scan
from wherestood.daybook.ties_kept import plates_of_panorama
from wherestood.record.doubt import distance_in_words
from wherestood.server.desk import Book, DeskNeeded, WrittenBook
from wherestood.server.forms.answers import (
    Compared,
    EvidenceTold,
    FixMap,
    FixWhole,
    PlaceOnMap,
    RegionOnMap,
    RunAsked,
    Screen,
)
from wherestood.server.forms.jobs import Job
from wherestood.server.grounds import Ground
from wherestood.server.readiness import readiness, tell_what_counts
from wherestood.server.routes.images import CoveredError
from wherestood.server.routes.items import Why, item_of, tell
from wherestood.server.routes.panoramas import missing_together
from wherestood.server.troubles import NotThereError, TroubleError

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["fixes"])
_WGS84 = pyproj.Geod(ellps="WGS84")
PICTURES = (".png",)
#: All other pictures of a fix show its plate.
SHOW_NO_PLATE = ("map.png",)
#: What was traced on a plate and counts as one.
TRACED = ("skyline", "ridge_line")


class NotReadyError(TroubleError):
    """Report that a run cannot be made yet."""

    status = 409


@router.get("/plates/{plate_id}/evidence", operation_id="getWhatCounts")
def evidence(book: Book, plate_id: str) -> EvidenceTold:
    """Tell what a run would be given, as the evidence file has it."""
    return tell_what_counts(book, plate_id)


@router.post("/plates/{plate_id}/fixes", operation_id="runFix")
def run(
    desk: DeskNeeded, book: WrittenBook, plate_id: str, asked: RunAsked, why: Why = ""
) -> Job:
    """Find where the camera stood, and keep the answer."""
    with book.reading() as session:
        plate: Plate = item_of(session, "plates", plate_id)
        ids = [one.id for one in plates_of_panorama(session, plate)]
    missing = (
        missing_together(desk, book, ids)
        if asked.together
        else readiness(desk, book, plate_id).missing
    )
    if missing:
        raise NotReadyError(missing[0].sentence, missing[0].remedy)
    what = f"the panorama {plate.panorama}" if asked.together else plate.key
    return desk.jobs.start(
        "fix",
        f"Finding where {what} was taken",
        {"plate_id": plate_id, "why": why, **asked.model_dump()},
        person=desk.person,
        plate_id=plate_id,
    )


@router.get("/fixes/compare", operation_id="compareFixes")
def compare(book: Book, a: str, b: str) -> Compared:
    """Set two runs of one plate beside each other."""
    with book.reading() as session:
        one: Fix = item_of(session, "fixes", a)
        other: Fix = item_of(session, "fixes", b)
        sentences = _between(session, one, other)
    apart_m = _apart_m(one, other)
    moved = f"From {one.key} to {other.key} the likeliest place moved "
    moved += f"{distance_in_words(apart_m)}."
    if one.verdict == other.verdict:
        verdict = f"Both say {one.verdict}."
    else:
        verdict = f"{one.key} says {one.verdict}, {other.key} {other.verdict}."
    return Compared(apart_m=apart_m, sentences=[moved, verdict, *sentences])


@router.get("/fixes/{fix_id}", operation_id="getFixWhole")
def whole(book: Book, fix_id: str) -> FixWhole:
    """Tell a fix whole."""
    with book.reading() as session:
        fix: Fix = item_of(session, "fixes", fix_id)
        changed = changed_since(session, book.folder, fix, files=False)
        folder = folder_of_fix(book, _plate(session, fix).key, fix.key)
        screen = _screen(session, book, fix)
        shown = tell(session, fix)
    pictures = (
        sorted(path.name for path in folder.iterdir() if path.suffix in PICTURES)
        if folder.is_dir()
        else []
    )
    return FixWhole(
        fix=shown,
        answer=fix.answer or {},
        words=fix.words,
        screen=screen,
        pictures=pictures,
        changed=[one.sentence() for one in changed],
        asked=fix.question or {},
    )


@router.get("/fixes/{fix_id}/map", operation_id="getFixMap")
def on_map(
    desk: DeskNeeded, book: Book, fix_id: str, ground: str | None = None
) -> FixMap:
    """Give regions, places and proposals on the map."""
    opened = desk.grounds.get(ground) if ground else None
    with book.reading() as session:
        fix: Fix = item_of(session, "fixes", fix_id)
        scan = _scan(session, fix)
    answer: dict[str, Any] = fix.answer or {}
    width_px = scan.width_px if scan else None
    return FixMap(
        station=_place("1", answer, answer.get("near_enough_share"), width_px, opened),
        alternatives=[
            _place(str(number), one, one["probability"], width_px, opened)
            for number, one in enumerate(answer.get("alternatives", ()), start=2)
        ],
        proposed=[
            PlaceOnMap(
                name=one["name"],
                lon_deg=one["lon"],
                lat_deg=one["lat"],
                **_grid(opened, one["lon"], one["lat"]),
                sd_east_m=one["doubt_m"],
                sd_north_m=one["doubt_m"],
                bearing_deg=one["bearing_deg"],
                field_deg=None,
                probability=None,
            )
            for one in answer.get("proposed", ())
        ],
        regions=[
            RegionOnMap(
                probability=feature["properties"]["probability"],
                geometry=feature["geometry"],
                rings_m=_rings(opened, feature["geometry"]),
            )
            for feature in answer.get("regions", {}).get("features", ())
        ],
    )


@router.get(
    "/fixes/{fix_id}/pictures/{name}",
    operation_id="getPicture",
    response_class=Response,
    responses={200: {"content": {"image/png": {}}}},
)
def picture(
    book: Book,
    fix_id: str,
    name: str,
    px: Annotated[int | None, Query(ge=32, le=4096)] = None,
    uncover: Annotated[bool, Query(description="Show what is covered.")] = False,
) -> Response:
    """Give one of a fix's pictures, no wider than ``px`` where that is told.

    One that shows a covered plate comes only to who asks to uncover it, and no
    browser keeps it.
    """
    with book.reading() as session:
        fix: Fix = item_of(session, "fixes", fix_id)
        covered = name not in SHOW_NO_PLATE and _covered(session, fix)
        folder = folder_of_fix(book, _plate(session, fix).key, fix.key)
    if covered and not uncover:
        raise CoveredError("This picture is covered.", "Ask to see it.")
    headers = {"Cache-Control": "no-store"} if covered else None
    there = {path.name: path for path in folder.glob("*.png")}
    if name not in there:  # a name from the folder itself: none leads out of it
        raise NotThereError("There is no such picture.", "Run the fix again.")
    if px is not None:
        small = pyvips.Image.thumbnail(str(there[name]), px, size="down")
        return Response(
            small.write_to_buffer(".png"), media_type="image/png", headers=headers
        )
    return FileResponse(there[name], media_type="image/png", headers=headers)


def _covered(session: DaybookSession, fix: Fix) -> bool:
    """Return whether a plate that a fix was made of is covered."""
    together = (fix.question or {}).get("panorama")
    plates = {fix.plate_id, *(together["plates"] if together else ())}
    found = [session.get(Plate, one) for one in plates]
    return any(restricted(session, one).covered for one in found if one is not None)


@router.get(
    "/fixes/{fix_id}/fix.json",
    operation_id="getPublishedFix",
    response_class=JSONResponse,
)
def published(book: Book, fix_id: str) -> Response:
    """Give a fix in its published form, to keep."""
    with book.reading() as session:
        fix: Fix = item_of(session, "fixes", fix_id)
    text = json.dumps(fix.answer or {}, indent=1, ensure_ascii=False)
    named = {"Content-Disposition": f'attachment; filename="{fix.key}.json"'}
    return Response(text, media_type="application/json", headers=named)


def _screen(session: Session, book: Daybook, fix: Fix) -> Screen | None:
    """Return what was written for the screens, with the daybook's own items named."""
    path = folder_of_fix(book, _plate(session, fix).key, fix.key) / SCREEN
    try:
        told = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError):
        return None
    items = _items(session, fix)
    rows = [*told.get("contributions", ()), told.get("without_statements")]
    for row in rows:
        if row is not None:
            ids = [items[name] for name in row.get("ids", ()) if name in items]
            row["item_ids"] = ids
    try:
        return Screen.model_validate(told)
    except ValidationError:
        return None


def _items(session: Session, fix: Fix) -> dict[str, str]:
    """Return the items a fix rests on by their ids in the evidence file."""
    together = (fix.question or {}).get("panorama")
    numbers = {one: n for n, one in enumerate(together["plates"])} if together else {}
    wanted = select(FixInput).where(FixInput.fix_id == fix.id, FixInput.role == "item")
    found: dict[str, str] = {}
    for row in session.scalars(wanted):
        if row.item_table is None or row.item_id is None:
            continue
        item = session.get(ITEMS[row.item_table], row.item_id)
        if item is not None:
            more: Any = getattr(item, "more", None)
            name = (more or {}).get("id") or getattr(item, "key", item.id)
            if together and isinstance(item, OnPlate):
                plate = session.get_one(Plate, item.plate_id)
                name = f"{plate.key}/{name}"
            found.setdefault(str(name), item.id)
            kind = str(getattr(item, "kind", ""))
            if item.__tablename__ == "evidence" and kind in TRACED:
                number = numbers.get(getattr(item, "plate_id", ""))
                # As a search of several plates calls what was traced on each.
                name = kind if number is None else f"{kind} of plate {number + 1}"
                found.setdefault(name, item.id)
    return found


def _between(session: Session, one: Fix, other: Fix) -> list[str]:
    """Say what two runs were made from that differs."""
    inputs = []
    for fix in (one, other):
        rows = session.scalars(select(FixInput).where(FixInput.fix_id == fix.id))
        inputs.append({row.name: row.sha256 for row in rows})
    first, second = inputs
    told = [
        f"{name} counted in {one.key} alone." for name in first if name not in second
    ]
    told += [
        f"{name} counted in {other.key} alone." for name in second if name not in first
    ]
    told += [
        f"{name} was changed between the two."
        for name, digest in first.items()
        if name in second and second[name] != digest
    ]
    settings = [(fix.question or {}).get("settings", {}) for fix in (one, other)]
    for name in sorted(set(settings[0]) | set(settings[1])):
        before, after = settings[0].get(name), settings[1].get(name)
        if before != after:
            words = name.replace("_", " ")
            told.append(f"The {words} was {before} in {one.key}, {after} in the other.")
    return told


def _apart_m(one: Fix, other: Fix) -> float:
    places = (one.lon_deg, one.lat_deg, other.lon_deg, other.lat_deg)
    if None in places:
        return 0.0
    return float(_WGS84.inv(*places)[2])


def _place(
    name: str,
    told: dict[str, Any],
    probability: float | None,
    width_px: int | None,
    ground: Ground | None,
) -> PlaceOnMap:
    station, camera = told["station"], told.get("camera") or {}
    distance_px = camera.get("principal_distance_px")
    field_deg = None
    if width_px and distance_px:
        field_deg = float(np.degrees(2.0 * np.arctan(width_px / 2.0 / distance_px)))
    return PlaceOnMap(
        name=name,
        lon_deg=station["lon"],
        lat_deg=station["lat"],
        **_grid(ground, station["lon"], station["lat"]),
        sd_east_m=station.get("sd_east_m"),
        sd_north_m=station.get("sd_north_m"),
        bearing_deg=(camera.get("sight") or {}).get("bearing_deg"),
        field_deg=field_deg,
        probability=probability,
    )


def _grid(ground: Ground | None, lon: float, lat: float) -> dict[str, float | None]:
    if ground is None:
        return {"east_m": None, "north_m": None}
    frame = ground.terrain.frame
    east, north = frame.from_lonlat(np.array([lon]), np.array([lat]))
    return {"east_m": float(east[0]), "north_m": float(north[0])}


def _rings(
    ground: Ground | None, geometry: dict[str, Any]
) -> list[list[list[tuple[float, float]]]]:
    if ground is None:
        return []
    shape = shapely.geometry.shape(geometry)
    parts = getattr(shape, "geoms", [shape])
    frame = ground.terrain.frame
    polygons = []
    for part in parts:
        rings = []
        for ring in (part.exterior, *part.interiors):
            points = np.asarray(ring.coords)
            east, north = frame.from_lonlat(points[:, 0], points[:, 1])
            rings.append(
                [
                    (round(float(x), 1), round(float(y), 1))
                    for x, y in zip(east, north, strict=True)
                ]
            )
        polygons.append(rings)
    return polygons


def _plate(session: Session, fix: Fix) -> Plate:
    return session.get_one(Plate, fix.plate_id)


def _scan(session: Session, fix: Fix) -> Scan | None:
    wanted = select(FixInput).where(FixInput.fix_id == fix.id, FixInput.role == "scan")
    row = session.scalars(wanted).first()
    if row is None:
        return None
    chosen = select(Scan).where(
        Scan.plate_id == fix.plate_id, Scan.sha256 == row.sha256
    )
    return session.scalars(chosen).first()
