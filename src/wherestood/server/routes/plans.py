"""Answer for old plans: how they are pinned, and a picture of the sheet."""

from __future__ import annotations

from typing import Annotated, cast

from fastapi import APIRouter, Query
from fastapi.responses import FileResponse

from wherestood.daybook.plan_copies import sheet_copy
from wherestood.daybook.plan_pins import pin_plan
from wherestood.daybook.plan_told import pinning_told
from wherestood.daybook.tables import Plan
from wherestood.server.desk import Book, DeskNeeded
from wherestood.server.forms.plans import PinningTold, PinningWanted
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


def _key(book: Book, plan_id: str) -> str:
    with book.reading() as session:
        return cast(Plan, item_of(session, "plans", plan_id)).key
