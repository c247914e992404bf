"""Answer for old plans: how they are pinned, their sheets, what is traced from them."""

from __future__ import annotations

from typing import Annotated, cast

import numpy as np
from fastapi import APIRouter, Query, Request
from fastapi.responses import FileResponse, Response
from numpy.typing import NDArray

from wherestood.daybook.plan_copies import sheet_copy
from wherestood.daybook.plan_pins import pin_plan, pinned_plan
from wherestood.daybook.plan_told import pinning_told
from wherestood.daybook.plan_traced import TracedThing, trace_plan
from wherestood.daybook.tables import Plan
from wherestood.plate.served.render import Viewing
from wherestood.plate.served.request import read_request
from wherestood.plate.served.tiled_copy import TiledCopy
from wherestood.server.desk import Book, Desk, DeskNeeded
from wherestood.server.forms.plans import (
    PinningTold,
    PinningWanted,
    SheetPlace,
    SheetPlaces,
    SheetPoints,
    TracedFeature,
    TracedFeatures,
    TracedWanted,
)
from wherestood.server.routes.images import Shown, give_piece, tell_image
from wherestood.server.routes.items import item_of

__all__ = ["router"]

router = APIRouter(prefix="/api/plans", tags=["plans"])
WhyPinned = Annotated[str, Query(max_length=2000, description="Why, for the journal.")]


@router.get("/{plan_id}/pinning", operation_id="getPinning")
def pinning(desk: DeskNeeded, book: Book, plan_id: str) -> PinningTold:
    """Tell how a plan is pinned now."""
    done = pin_plan(book, _key(book, plan_id), desk.person, dry_run=True)
    return PinningTold.model_validate(pinning_told(done))


@router.put("/{plan_id}/pinning", operation_id="pinPlan")
def pin(
    desk: DeskNeeded,
    book: Book,
    plan_id: str,
    wanted: PinningWanted,
    why: WhyPinned = "",
) -> PinningTold:
    """Pin a plan; what was traced from it moves along."""
    done = pin_plan(
        book, _key(book, plan_id), desk.person,
        pins=[one.model_dump(exclude_none=True) for one in wanted.pins],
        fit=wanted.fit, mirrored=wanted.mirrored, why=why, dry_run=wanted.dry_run,
    )  # fmt: skip
    return PinningTold.model_validate(pinning_told(done))


@router.get(
    "/{plan_id}/sheet.png", operation_id="getSheet", response_class=FileResponse
)
def sheet(book: Book, plan_id: str) -> FileResponse:
    """Serve a plan's sheet upright, whose pixels its pins are in."""
    with book.reading() as session:
        plan = cast(Plan, item_of(session, "plans", plan_id))
    return FileResponse(sheet_copy(book, plan), media_type="image/png")


@router.get(
    "/{plan_id}/image/info.json",
    operation_id="getSheetInformation",
    response_class=Response,
)
def information(
    request: Request, desk: DeskNeeded, book: Book, plan_id: str
) -> Response:
    """Describe a plan's sheet as the IIIF Image API asks."""
    copy, _ = _tiled(desk, book, plan_id)
    return tell_image(request, copy, _address(request, plan_id))


@router.get(
    "/{plan_id}/image/{region}/{size}/{rotation}/{quality}.{form}",
    operation_id="getSheetPiece",
    response_class=Response,
)
def piece(
    request: Request,
    desk: DeskNeeded,
    book: Book,
    plan_id: str,
    region: str,
    size: str,
    rotation: str,
    quality: str,
    form: str,
) -> Response:
    """Serve a piece of a plan's sheet, by the IIIF Image API 3.0."""
    copy, name = _tiled(desk, book, plan_id)
    asked = read_request(
        region, size, rotation, quality, form, copy.width_px, copy.height_px
    )
    shown = Shown(name, _address(request, plan_id))
    return give_piece(request, desk, copy, asked, Viewing(), shown)


@router.post("/{plan_id}/places", operation_id="placeOnPlan")
def places(book: Book, plan_id: str, asked: SheetPoints) -> SheetPlaces:
    """Tell where places of a pinned plan are on the ground, and how surely."""
    with book.reading() as session:
        pinned = pinned_plan(cast(Plan, item_of(session, "plans", plan_id)))
    points = np.asarray(asked.points_px, dtype=np.float64).reshape(-1, 2)
    ground = pinned.pinning.to_ground(points)
    there = np.isfinite(ground).all(axis=1)
    lon, lat, sd, within = (np.full(len(points), np.nan) for _ in range(4))
    if there.any():
        lon[there], lat[there] = pinned.frame.to_lonlat(*ground[there].T)
        sd[there] = pinned.pinning.sd_m(points[there])
        within[there] = pinned.pinning.radius90_m(points[there])
    return SheetPlaces(
        places=[
            SheetPlace(
                lon_deg=_number(lon[i], 8), lat_deg=_number(lat[i], 8),
                sd_m=_number(sd[i], 3), within90_m=_number(within[i], 3),
            )
            for i in range(len(points))
        ]
    )  # fmt: skip


@router.post("/{plan_id}/traced", operation_id="traceFromPlan")
def traced(
    desk: DeskNeeded,
    book: Book,
    plan_id: str,
    wanted: TracedWanted,
    why: WhyPinned = "",
) -> TracedFeatures:
    """Make features of what was followed on a pinned plan, in one act."""
    fields = {
        "existed-from": wanted.existed_from,
        "existed-to": wanted.existed_to,
        "source": wanted.source,
    }
    made = trace_plan(
        book, _key(book, plan_id),
        [TracedThing(**thing.model_dump()) for thing in wanted.things],
        desk.person, why=why,
        fields={name: value for name, value in fields.items() if value},
    )  # fmt: skip
    with book.reading() as session:
        shared = cast(Plan, item_of(session, "plans", plan_id)).shared_shift_sd_m
    return TracedFeatures(
        features=[
            TracedFeature(
                key=one["key"], what=one["what"], drawn=one["drawn"], sd_m=one["sd_m"]
            )
            for one in made
        ],
        shared_shift_sd_m=shared or 0.0,
    )


def _tiled(desk: Desk, book: Book, plan_id: str) -> tuple[TiledCopy, str]:
    """Return a tiled copy of a plan's sheet, and what names it for good."""
    with book.reading() as session:
        plan = cast(Plan, item_of(session, "plans", plan_id))
    drawn = sheet_copy(book, plan)
    return desk.scans.tiled_sheet(drawn), drawn.stem


def _address(request: Request, plan_id: str) -> str:
    return f"{str(request.base_url).rstrip('/')}/api/plans/{plan_id}/image"


def _number(value: NDArray[np.float64] | float, decimals: int) -> float | None:
    return round(float(value), decimals) if np.isfinite(value) else None


def _key(book: Book, plan_id: str) -> str:
    with book.reading() as session:
        return cast(Plan, item_of(session, "plans", plan_id)).key
