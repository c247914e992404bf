"""Answer for the map on a plate, and for what is drawn on a plate, on the map."""

from __future__ import annotations

from typing import Any

import numpy as np
from fastapi import APIRouter
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.drawn_on_plate import DrawnOn, keep_drawn, told_of_drawn
from wherestood.daybook.tables import Fix
from wherestood.daybook.traced_on_plate import (
    MOST_THINGS,
    traced_features,
    traced_on_plate,
)
from wherestood.ground.drawn import map_shape
from wherestood.ground.on_plate import ShownPiece
from wherestood.ground.worth import mapping_worth
from wherestood.plate.finer_scan import finer_scan
from wherestood.record.mapping_json import mapping_of_fix
from wherestood.record.size_words import worth_sentences
from wherestood.server.desk import Book, DeskNeeded
from wherestood.server.forms.drawn import DrawnGiven, DrawnTold, MappingWorthTold
from wherestood.server.forms.plans import OnPlate, OnPlatePiece, OnPlateThing
from wherestood.server.plate_ground import ground_of
from wherestood.server.routes.items import Why, item_of
from wherestood.server.routes.traced import opened_plate
from wherestood.server.troubles import NotThereError

__all__ = ["router"]

router = APIRouter(prefix="/api/plates", tags=["plans"])
#: The same fix draws the same widths.
_SEED = 1


@router.get("/{plate_id}/traced_from_plans", operation_id="getTracedOnPlate")
def traced(desk: DeskNeeded, book: Book, plate_id: str, lines: bool = False) -> OnPlate:
    """Tell where things traced from plans show on a plate, by its newest fix.

    All other lines and outlines of the map come along where they are asked for.
    """
    with book.reading() as session:
        item_of(session, "plates", plate_id)
        fix = _newest(session, plate_id)
        found = traced_features(session, lines=lines)
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


@router.get("/{plate_id}/mapping_worth", operation_id="getMappingWorth")
def worth(desk: DeskNeeded, book: Book, plate_id: str) -> MappingWorthTold:
    """Say what of a plate can be carried to the map, before anyone draws on it."""
    with book.reading() as session:
        item_of(session, "plates", plate_id)
        fix = _newest(session, plate_id)
    if fix is None or not fix.answer:
        raise NotThereError(
            "Nobody knows yet where this plate was taken.", "Look for it in Where."
        )
    ground, _ = ground_of(desk, book, plate_id)
    mapping = mapping_of_fix(fix.answer, ground.terrain, model=ground.model)
    found = mapping_worth(mapping, np.random.default_rng(_SEED))
    finer = finer_scan(opened_plate(desk, book, plate_id))
    return MappingWorthTold(
        caution=mapping.caution(),
        sentences=[
            *worth_sentences(found),
            finer.sentence()
            if finer
            else "The scan is too small to tell whether a finer one would show more.",
        ],
    )


@router.post("/{plate_id}/drawn", operation_id="mapDrawn")
def drawn(
    desk: DeskNeeded, book: Book, plate_id: str, given: DrawnGiven, why: Why = ""
) -> DrawnTold:
    """Carry to the map what was drawn on a plate, and keep it as a feature if asked."""
    with book.reading() as session:
        key = item_of(session, "plates", plate_id).key
        fix = _newest(session, plate_id)
    if fix is None or not fix.answer:
        raise NotThereError(
            "Nobody knows yet where this plate was taken.", "Look for it in Where."
        )
    ground, _ = ground_of(desk, book, plate_id)
    mapping = mapping_of_fix(fix.answer, ground.terrain, model=ground.model)
    mapping = mapping.at_place(given.place)
    mapped = map_shape(mapping, given.on_plate(), np.random.default_rng(_SEED))
    told = told_of_drawn(mapped, mapping)
    foot_px = given.points_px[0]
    if given.shape == "height":
        told = told.with_height(mapping, foot_px, given.points_px[1])
    if given.shape in ("point", "height"):
        told = told.with_pixel(mapping, foot_px)
    kept = None
    if given.keep and told.geometry is not None:
        of = DrawnOn(plate_id, key, fix.key, given.shape, given.points_px)
        kept = keep_drawn(
            book, told, of, given.name, given.what, person=desk.person, why=why
        )
    return DrawnTold(
        geometry=told.geometry,
        share=mapped.share,
        doubt_m=_known(mapped.doubt_m),
        most_doubt_m=_known(mapped.most_doubt_m),
        sentences=list(told.sentences),
        caution=mapping.caution(),
        tall_m=told.tall_m,
        tall_sd_m=told.tall_sd_m,
        feature=kept,
    )


def _known(value: float) -> float | None:
    """Return a number, or None where it is not one: JSON has no other word."""
    return float(value) if np.isfinite(value) else None


def _newest(session: Session, plate_id: str) -> Fix | None:
    newest = select(Fix).where(
        Fix.plate_id == plate_id, Fix.removed.is_(False), Fix.withdrawn.is_(None)
    )
    return session.scalars(newest.order_by(Fix.made.desc()).limit(1)).first()


def _piece(piece: ShownPiece) -> OnPlatePiece:
    return OnPlatePiece(
        points_px=[(float(x), float(y)) for x, y in np.round(piece.points_px, 1)],
        seen=piece.seen,
        sd_px=round(piece.sd_px, 2),
        chance=round(piece.chance, 3),
    )
