"""Serve scans: pieces by the IIIF Image API 3.0, and small pictures."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from sqlalchemy.orm import Session

from wherestood.dating.emulsion import EMULSIONS, Emulsion
from wherestood.daybook import Daybook
from wherestood.daybook.precision import restricted
from wherestood.daybook.tables import Plate as PlateRow
from wherestood.daybook.tables import Scan
from wherestood.plate.served.information import image_information
from wherestood.plate.served.render import MEDIA_TYPES, Viewing, render
from wherestood.plate.served.request import Piece, read_request
from wherestood.plate.served.tiled_copy import TiledCopy
from wherestood.server.desk import Book, Desk, DeskNeeded
from wherestood.server.routes.items import item_of
from wherestood.server.scans import shown_negative, thumbnail, version_of
from wherestood.server.troubles import TroubleError

__all__ = ["Shown", "give_piece", "router", "tell_image"]

router = APIRouter(tags=["images"])
_PROFILE = '<http://iiif.io/api/image/3/level2.json>;rel="profile"'
_CONTEXT = "http://iiif.io/api/image/3/context.json"
_LD_JSON = f'application/ld+json;profile="{_CONTEXT}"'
#: An address that names the version of what is shown never shows another; without
#: one the browser asks whether it is still the same.
_FOR_GOOD = "private, max-age=31536000, immutable"
_ASK_AGAIN = "private, no-cache"
_LONGEST_THUMBNAIL_PX = 1024


class CoveredError(TroubleError):
    """Report that a picture is covered until a person asks to see it."""

    status = 403


@router.get("/iiif/3/{scan_id}", operation_id="getImage", include_in_schema=False)
def base(request: Request, scan_id: str) -> Response:
    """Lead from the image's own address to its information (section 2)."""
    return RedirectResponse(f"{_address(request, scan_id)}/info.json", 303)


@router.get(
    "/iiif/3/{scan_id}/info.json",
    operation_id="getImageInformation",
    response_class=Response,
)
def information(
    request: Request,
    desk: DeskNeeded,
    book: Book,
    scan_id: str,
    uncover: bool = False,
) -> Response:
    """Describe a scan as the IIIF Image API asks; a covered one only if uncovered."""
    scan, negative, _ = _scan(desk, book, scan_id, uncover=uncover)
    copy = desk.scans.tiled(book, scan, negative=negative)
    return tell_image(request, copy, _address(request, scan_id))


def tell_image(request: Request, copy: TiledCopy, address: str) -> Response:
    """Describe a tiled copy that is served at an address."""
    told = image_information(copy, address)
    wants = request.headers.get("accept", "")
    media = _LD_JSON if "application/ld+json" in wants else "application/json"
    headers = {
        "Link": _PROFILE
        if "ld+json" in wants
        else f'{_PROFILE}, <{_CONTEXT}>;rel="http://www.w3.org/ns/json-ld#context";'
        'type="application/ld+json"',
        **_SHARED,
    }
    body = json.dumps(told).encode("utf-8")
    return Response(body, media_type=media, headers=headers)


@router.get(
    "/iiif/3/{scan_id}/{region}/{size}/{rotation}/{quality}.{form}",
    operation_id="getImagePiece",
    response_class=Response,
)
def piece(
    request: Request,
    desk: DeskNeeded,
    book: Book,
    scan_id: str,
    region: str,
    size: str,
    rotation: str,
    quality: str,
    form: str,
    channel: Literal["red", "green", "blue"] | None = None,
    local: bool = False,
    recorded: Emulsion | None = None,
    v: Annotated[str, Query(max_length=64)] = "",
    uncover: bool = False,
) -> Response:
    """Serve a piece of a scan, by the IIIF Image API 3.0, level 2.

    ``channel``, ``local`` (contrast evened from place to place) and ``recorded`` (a
    colour picture as an early emulsion would have recorded it) are for viewing; ``v``
    is the version that the plate tells, by which a browser keeps it for good.
    What is covered is served to who asks to uncover it, and no browser keeps it.
    """
    scan, negative, covered = _scan(desk, book, scan_id, uncover=uncover)
    copy = desk.scans.tiled(book, scan, negative=negative)
    asked = read_request(
        region, size, rotation, quality, form, copy.width_px, copy.height_px
    )
    shown = Shown(
        version_of(scan, negative=negative), _address(request, scan_id), v, covered
    )
    light = None if recorded is None else EMULSIONS[recorded]
    viewing = Viewing(channel, local, light)
    return give_piece(request, desk, copy, asked, viewing, shown)


@dataclass(frozen=True)
class Shown:
    """Hold what names a picture: its version, its address, the version asked for.

    A covered one is kept by no browser.
    """

    version: str
    address: str
    asked: str = ""
    covered: bool = False


def give_piece(
    request: Request,
    desk: Desk,
    copy: TiledCopy,
    asked: Piece,
    viewing: Viewing,
    shown: Shown,
) -> Response:
    """Serve a piece of a tiled copy; for good where its version was asked for."""
    grey = copy.bands < 3
    canonical = asked.canonical(copy.width_px, copy.height_px, grey=grey)
    seen_as = (viewing.channel, viewing.local, viewing.light)
    key = (shown.version, canonical, *map(str, seen_as))
    tag = '"' + hashlib.sha256("\n".join(key).encode()).hexdigest()[:32] + '"'
    address = f"{shown.address}/{canonical}"
    keeping = _FOR_GOOD if shown.asked == shown.version else _ASK_AGAIN
    headers = {
        "ETag": tag,
        "Cache-Control": "no-store" if shown.covered else keeping,
        "Link": f'{_PROFILE}, <{address}>;rel="canonical"',
        **_SHARED,
    }
    if _has(request, tag):
        return Response(status_code=304, headers=headers)
    data = desk.scans.kept_piece(key)
    if data is None:
        data = render(copy, asked, viewing)
        desk.scans.keep_piece(key, data)
    return Response(data, media_type=MEDIA_TYPES[asked.format], headers=headers)


@router.get(
    "/api/scans/{scan_id}/thumbnail",
    operation_id="getThumbnail",
    response_class=Response,
    responses={200: {"content": {"image/webp": {}}}},
)
def small(
    request: Request,
    book: Book,
    scan_id: str,
    px: Annotated[int, Query(ge=32, le=_LONGEST_THUMBNAIL_PX)] = 256,
    uncover: bool = False,
) -> Response:
    """Serve a small picture of a scan; of a covered one only if asked to uncover."""
    with book.reading() as session:
        scan = item_of(session, "scans", scan_id)
        cover = restricted(session, scan).covered
    if cover and not uncover:
        raise CoveredError("This picture is covered.", "Ask to see it.")
    negative = shown_negative(book, scan)
    tag = f'"{version_of(scan, negative=negative)}-{px}"'
    headers = {"Cache-Control": "no-store" if cover else _ASK_AGAIN, "ETag": tag}
    if not cover and _has(request, tag):
        return Response(status_code=304, headers=headers)
    data = thumbnail(book, scan, px, negative=negative)
    return Response(data, media_type="image/webp", headers=headers)


def _has(request: Request, tag: str) -> bool:
    """Tell whether the browser has a representation (RFC 9110, section 13.1.2)."""
    kept = request.headers.get("if-none-match", "")
    tags = {one.strip().removeprefix("W/") for one in kept.split(",")}
    return tag in tags or "*" in tags


#: Level 2 asks that pages of other sites may read images (Compliance, 3.6); the
#: guard has refused those by then, so that this opens nothing.
_SHARED = {"Access-Control-Allow-Origin": "*"}


def _scan(
    desk: Desk, book: Daybook, scan_id: str, *, uncover: bool
) -> tuple[Scan, bool, bool]:
    """Return a scan, whether it is shown as a positive, and whether it is covered."""
    with book.reading() as session:
        scan: Scan = item_of(session, "scans", scan_id)
        plate = _plate(session, scan)
        covered = restricted(session, scan).covered
    if covered and not uncover:
        raise CoveredError("This picture is covered.", "Ask to see it.")
    if scan.negative is not None:
        return scan, scan.negative, covered
    return scan, desk.scans.plate(book, plate, scan).negative, covered


def _plate(session: Session, scan: Scan) -> PlateRow:
    return session.get_one(PlateRow, scan.plate_id)


def _address(request: Request, scan_id: str) -> str:
    return f"{str(request.base_url).rstrip('/')}/iiif/3/{scan_id}"
