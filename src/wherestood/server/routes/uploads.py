"""Take files in: scans, terrain, features."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel
from sqlalchemy import select

from wherestood.daybook.gazetteer import read_whole_gazetteer, take_gazetteer
from wherestood.daybook.tables import Feature, FeatureName
from wherestood.server.desk import Book, Desk, DeskNeeded, WrittenBook
from wherestood.server.forms.jobs import Job, JobKind
from wherestood.server.forms.uploads import (
    FeatureCollection,
    FeaturesTaken,
    PlansWanted,
    Received,
    ScansWanted,
    TerrainWanted,
    Uploading,
)
from wherestood.server.routes.items import Why, item_of
from wherestood.server.troubles import RefusedError, TooLargeError

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["uploads"])
#: They are read whole, in the server's own process.
LARGEST_FEATURES_BYTES = 200 * 1024**2
_BINARY = {
    "requestBody": {
        "required": True,
        "content": {
            "application/octet-stream": {
                "schema": {"type": "string", "format": "binary"}
            }
        },
    }
}


@router.post("/uploads", operation_id="beginUpload")
def begin(desk: DeskNeeded, book: WrittenBook) -> Uploading:
    """Begin to send files, one or a folder of them."""
    del book  # one must be open
    return Uploading(upload_id=desk.uploads.begin())


@router.post(
    "/uploads/{upload_id}/files", operation_id="sendFile", openapi_extra=_BINARY
)
async def send(
    request: Request,
    desk: DeskNeeded,
    upload_id: str,
    name: Annotated[str, Query(min_length=1, max_length=1000)],
) -> Received:
    """Send one file as the body; its name may have folders before it."""
    said = request.headers.get("content-length", "")
    if said.isdecimal() and int(said) > desk.uploads.largest_bytes:
        raise TooLargeError(
            f"{name[-80:]} is larger than "
            f"{desk.uploads.largest_bytes / 1024**3:.0f} GB.",
            "Take it in from the command line, or make it smaller.",
        )
    size = await desk.uploads.take(upload_id, name, request.stream())
    return Received(name=name, size_bytes=size)


@router.delete("/uploads/{upload_id}", operation_id="dropUpload")
def drop(desk: DeskNeeded, upload_id: str) -> None:
    """Take away what was sent."""
    desk.uploads.forget(upload_id)


@router.post("/uploads/{upload_id}/scans", operation_id="takeScans")
def scans(
    desk: DeskNeeded,
    book: WrittenBook,
    upload_id: str,
    wanted: ScansWanted,
    why: Why = "",
) -> Job:
    """Take what was sent in as scans; without a plate each file makes a new one."""
    if wanted.plate_id is not None:
        with book.reading() as session:
            item_of(session, "plates", wanted.plate_id)
    return _taken_in("scan", "Taking in", desk, upload_id, wanted, why, wanted.plate_id)


@router.post("/uploads/{upload_id}/terrain", operation_id="takeTerrain")
def terrain(
    desk: DeskNeeded,
    book: WrittenBook,
    upload_id: str,
    wanted: TerrainWanted,
    why: Why = "",
) -> Job:
    """Take what was sent in as one elevation model."""
    del book  # one must be open
    return _taken_in("terrain", "Taking in terrain:", desk, upload_id, wanted, why)


@router.post("/uploads/{upload_id}/plans", operation_id="takePlans")
def plans(
    desk: DeskNeeded,
    book: WrittenBook,
    upload_id: str,
    wanted: PlansWanted,
    why: Why = "",
) -> Job:
    """Take what was sent in as old plans."""
    del book  # one must be open
    return _taken_in("plan", "Taking in", desk, upload_id, wanted, why)


@router.post("/uploads/{upload_id}/features", operation_id="takeFeatures")
def features(
    desk: DeskNeeded,
    book: WrittenBook,
    upload_id: str,
    citation: Annotated[str, Query(max_length=1000)] = "",
    why: Why = "",
) -> FeaturesTaken:
    """Take features in from GeoJSON, GeoPackage, KML, GPX, shapefile, CSV or XLSX."""
    files = _files(desk.uploads.files(upload_id))
    if sum(one.stat().st_size for one in files) > LARGEST_FEATURES_BYTES:
        raise TooLargeError(
            f"Features of more than {LARGEST_FEATURES_BYTES // 1024**2} MB are not "
            "taken in here.",
            "Take them in from the command line, or send a part of them.",
        )
    shapes = [one for one in files if one.suffix.lower() == ".shp"]
    told = FeaturesTaken(added=[], already_there=0, notes=[], refused=[])
    # Beside a shapefile lie its other parts; of other files each is one by itself.
    for chosen in shapes or files:
        gazetteer = read_whole_gazetteer(chosen)
        taken = take_gazetteer(
            book, gazetteer, desk.person, citation=citation or chosen.name, why=why
        )
        told.added += taken.added
        told.already_there += taken.already_there
        told.notes += gazetteer.notes
        told.refused += [f"{one.where}: {one.why}" for one in taken.refused]
    desk.uploads.forget(upload_id)
    return told


@router.get("/features.geojson", operation_id="getFeatures")
def as_geojson(book: Book) -> FeatureCollection:
    """Give all features as GeoJSON."""
    told: list[dict[str, Any]] = []
    with book.reading() as session:
        names: dict[str, list[str]] = {}
        called = select(FeatureName).where(FeatureName.removed.is_(False))
        for name in session.scalars(called.order_by(FeatureName.key)):
            names.setdefault(name.feature_id, []).append(name.name)
        wanted = select(Feature).where(
            Feature.removed.is_(False), Feature.geometry.is_not(None)
        )
        for feature in session.scalars(wanted.order_by(Feature.key)):
            told.append(
                {
                    "type": "Feature",
                    "id": feature.id,
                    "geometry": feature.geometry,
                    "properties": {
                        "key": feature.key,
                        "names": names.get(feature.id, []),
                        "what": feature.what,
                        "sd_m": feature.sd_m,
                        "height_m": feature.height_m,
                        "object_height_m": feature.object_height_m,
                        "existed_from": feature.existed_from_edtf,
                        "existed_to": feature.existed_to_edtf,
                    },
                }
            )
    return FeatureCollection(features=told)


def _taken_in(
    kind: JobKind,
    doing: str,
    desk: Desk,
    upload_id: str,
    wanted: BaseModel,
    why: str,
    plate_id: str | None = None,
) -> Job:
    """Begin to take in what was sent, in the background."""
    folder = desk.uploads.files(upload_id)
    return desk.jobs.start(
        kind,
        f"{doing} {_named(_files(folder))}",
        {"upload": str(folder), "why": why} | wanted.model_dump(),
        person=desk.person,
        plate_id=plate_id,
    )


def _files(folder: Path) -> list[Path]:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    if not files:
        raise RefusedError("No file was sent.", "Send one first.")
    return files


def _named(files: list[Path]) -> str:
    more = len(files) - 1
    return files[0].name + (f" and {more} more" if more else "")
