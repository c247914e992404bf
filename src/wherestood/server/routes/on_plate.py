"""Answer for what was traced from plans, as a plate shows it."""

from __future__ import annotations

from typing import Any

import numpy as np
from fastapi import APIRouter
from sqlalchemy import select

from wherestood.daybook.tables import Fix
from wherestood.daybook.traced_on_plate import (
    MOST_THINGS,
    traced_features,
    traced_on_plate,
)
from wherestood.ground.on_plate import ShownPiece
from wherestood.record.mapping_json import mapping_of_fix
from wherestood.server.desk import Book, DeskNeeded
from wherestood.server.forms.plans import OnPlate, OnPlatePiece, OnPlateThing
from wherestood.server.plate_ground import ground_of
from wherestood.server.routes.items import item_of

__all__ = ["router"]

router = APIRouter(prefix="/api/plates", tags=["plans"])
#: The same fix draws the same widths.
_SEED = 1


@router.get("/{plate_id}/traced_from_plans", operation_id="getTracedOnPlate")
def traced(desk: DeskNeeded, book: Book, plate_id: str) -> OnPlate:
    """Tell where things traced from plans show on a plate, by its newest fix."""
    with book.reading() as session:
        item_of(session, "plates", plate_id)
        newest = select(Fix).where(
            Fix.plate_id == plate_id, Fix.removed.is_(False), Fix.withdrawn.is_(None)
        )
        fix = session.scalars(newest.order_by(Fix.made.desc()).limit(1)).first()
        found = traced_features(session)
    if fix is None or not fix.answer or not found:
        key = fix.key if fix is not None else None
        return OnPlate(fix=key, caution="", things=[], beyond=0, left=0)
    ground, _ = ground_of(desk, book, plate_id)
    form: dict[str, Any] = fix.answer
    mapping = mapping_of_fix(form, ground.terrain, model=ground.model)
    things = traced_on_plate(mapping, found[:MOST_THINGS], np.random.default_rng(_SEED))
    shown = [one for one in things if one.pieces]
    return OnPlate(
        fix=fix.key,
        caution=mapping.caution(),
        things=[
            OnPlateThing(
                feature_id=one.feature.id,
                key=one.feature.key,
                what=one.feature.what or one.feature.key,
                sd_m=round(one.sd_m, 2),
                pieces=[_piece(piece) for piece in one.pieces],
            )
            for one in shown
        ],
        beyond=len(things) - len(shown),
        left=max(len(found) - MOST_THINGS, 0),
    )


def _piece(piece: ShownPiece) -> OnPlatePiece:
    return OnPlatePiece(
        points_px=[(float(x), float(y)) for x, y in np.round(piece.points_px, 1)],
        seen=piece.seen,
        sd_px=round(piece.sd_px, 2),
        chance=round(piece.chance, 3),
    )
