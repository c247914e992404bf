"""Answer for photographs made on the spot, then and now."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import pyvips
from fastapi import APIRouter, Query
from fastapi.responses import Response
from sqlalchemy import select

from wherestood.daybook.keep_photograph import folder_of_photograph, photographs
from wherestood.daybook.precision import restricted
from wherestood.daybook.tables import Fix
from wherestood.plate.photograph import Photograph, read_photograph
from wherestood.server.desk import Book, Desk, DeskNeeded, WrittenBook
from wherestood.server.forms.jobs import Job
from wherestood.server.forms.photographs import (
    AskedOfPhotograph,
    PhotographGiven,
    PhotographRead,
    PhotographTold,
)
from wherestood.server.jobs.compare_photograph import photograph_and_marks
from wherestood.server.routes.images import CoveredError
from wherestood.server.routes.items import Why, item_of
from wherestood.server.troubles import NotThereError, TooLargeError
from wherestood.server.uploads import LARGEST_PX
from wherestood.visit.asked_of_photograph import ask_of
from wherestood.visit.write_then_and_now import THEN_AND_NOW_FILES

__all__ = ["router"]

router = APIRouter(prefix="/api/plates", tags=["visit"])
_KINDS = {".html": "text/html", ".tif": "image/tiff"}
_SHOWN = {"then.webp": "then.tif", "now.webp": "now.tif"}
_SHOWN_PX, _MARKED_PX = 1600, 3000


@router.post("/{plate_id}/photographs/ask", operation_id="askOfPhotograph")
def ask(
    desk: DeskNeeded, book: Book, plate_id: str, given: PhotographGiven
) -> PhotographRead:
    """Say what a photograph that was sent in tells of itself, and what it does not."""
    with book.reading() as session:
        item_of(session, "plates", plate_id)
    file = _sent(desk, given.upload_id)
    photo = read_photograph(file)
    if photo.width_px * photo.height_px > LARGEST_PX:
        raise TooLargeError(
            f"The photograph has {photo.width_px * photo.height_px / 1e6:.0f} "
            f"megapixels; at most {LARGEST_PX // 10**6} are compared here.",
            "Make a smaller copy, its tags kept.",
        )
    _, marks = photograph_and_marks(desk.uploads.files(given.upload_id))
    questions = ask_of(
        photo, datetime.now(), not_known=given.not_known, mirrored=given.mirrored
    )
    return PhotographRead(
        name=file.name,
        width_px=photo.width_px,
        height_px=photo.height_px,
        read=[
            *_read(photo),
            *([f"Things marked on both are in {marks.name}."] if marks else []),
        ],
        asked=[
            AskedOfPhotograph.model_validate(
                {"what": one.what, "sentence": one.sentence, "remedy": one.remedy}
            )
            for one in questions
        ],
    )


@router.get(
    "/{plate_id}/photographs/sent/{upload_id}",
    operation_id="lookAtPhotograph",
    response_class=Response,
)
def sent(desk: DeskNeeded, book: Book, plate_id: str, upload_id: str) -> Response:
    """Give a photograph that was sent in, upright and smaller, to be marked on."""
    with book.reading() as session:
        item_of(session, "plates", plate_id)
    colours = read_photograph(_sent(desk, upload_id)).colours(_MARKED_PX)
    image = pyvips.Image.new_from_array(colours).copy(interpretation="srgb")
    return Response(image.webpsave_buffer(Q=85), media_type="image/webp")


@router.post("/{plate_id}/photographs", operation_id="comparePhotograph")
def compare(
    desk: DeskNeeded,
    book: WrittenBook,
    plate_id: str,
    given: PhotographGiven,
    why: Why = "",
) -> Job:
    """Compare a photograph with the plate in the background; keep what it tells."""
    with book.reading() as session:
        item_of(session, "plates", plate_id)
        newest = select(Fix).where(
            Fix.plate_id == plate_id, Fix.removed.is_(False), Fix.withdrawn.is_(None)
        )
        fix = session.scalars(newest.order_by(Fix.made.desc()).limit(1)).first()
    if fix is None or not fix.answer:
        raise NotThereError(
            "Nobody knows yet where this plate was taken.", "Look for it in Where."
        )
    file = _sent(desk, given.upload_id)
    return desk.jobs.start(
        "photograph",
        f"Comparing {file.name} with the plate",
        {
            "upload": str(desk.uploads.files(given.upload_id)), "plate_id": plate_id,
            "fix_id": fix.id, "given": given.model_dump(mode="json"), "why": why,
        },
        person=desk.person,
        plate_id=plate_id,
    )  # fmt: skip


@router.get("/{plate_id}/photographs", operation_id="listPhotographs")
def kept(book: Book, plate_id: str) -> list[PhotographTold]:
    """Give the photographs of a plate that were compared and kept, the last first."""
    with book.reading() as session:
        plate = item_of(session, "plates", plate_id)
        found = photographs(book, session, plate_id)
    told = []
    for one in found:
        size = _size(folder_of_photograph(book, plate.key, one.source))
        told.append(
            PhotographTold(
                source=one.source,
                citation=one.citation,
                sentences=list(one.sentences),
                caution=(one.told or {}).get("caution", ""),
                fix=(one.told or {}).get("fix"),
                pictures=one.told is not None and size is not None,
                width_px=size[0] if size else None,
                height_px=size[1] if size else None,
                files=list(THEN_AND_NOW_FILES) if one.told else [],
            )
        )
    return told


@router.get(
    "/{plate_id}/photographs/{source}/{name}",
    operation_id="savePhotograph",
    response_class=Response,
)
def picture(
    book: Book,
    plate_id: str,
    source: str,
    name: str,
    uncover: Annotated[bool, Query(description="Show what is covered.")] = False,
) -> Response:
    """Give one of a photograph's files, or a smaller picture to be looked at."""
    with book.reading() as session:
        plate = item_of(session, "plates", plate_id)
        if restricted(session, plate).covered and not uncover:
            raise CoveredError("This picture is covered.", "Ask to see it.")
        known = {one.source for one in photographs(book, session, plate_id)}
    file = _SHOWN.get(name, name)
    if file not in THEN_AND_NOW_FILES or source not in known:
        raise NotThereError("There is no such picture.")
    path = folder_of_photograph(book, plate.key, source) / file
    if not path.is_file():
        raise NotThereError(
            "The picture is not there any more.", "Give the photograph anew."
        )
    if name in _SHOWN:
        image = pyvips.Image.thumbnail(
            str(path), _SHOWN_PX, height=_SHOWN_PX, size="down"
        )
        return Response(image.webpsave_buffer(Q=85), media_type="image/webp")
    return Response(
        path.read_bytes(),
        media_type=_KINDS[path.suffix],
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def _sent(desk: Desk, upload_id: str) -> Path:
    """Return the photograph that was sent, marks by hand beside it or not."""
    photo, _ = photograph_and_marks(desk.uploads.files(upload_id))
    return photo


def _size(folder: Path) -> tuple[int, int] | None:
    try:
        image = pyvips.Image.new_from_file(str(folder / "then.tif"))
    except pyvips.Error:
        return None
    return image.width, image.height


def _read(photo: Photograph) -> list[str]:
    """Return what a camera wrote, in sentences."""
    read = []
    if photo.taken is not None:
        read.append(f"Made {photo.taken:%Y-%m-%d %H:%M} by its own clock.")
    if photo.camera:
        read.append(f"Camera: {photo.camera}.")
    if photo.lon_deg is not None and photo.lat_deg is not None:
        within = f", to {photo.position_sd_m:.0f} m" if photo.position_sd_m else ""
        read.append(f"At {photo.lon_deg:.6f}, {photo.lat_deg:.6f}{within}.")
    if photo.heading_deg is not None:
        north = {True: "magnetic", False: "true", None: "true or magnetic, not said"}
        read.append(
            f"Looks towards {photo.heading_deg:.0f}\u00b0 "
            f"({north[photo.heading_magnetic]})."
        )
    return read
