"""Answer for what a person reads off a plate: letters, marks, ties, what is said."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from pydantic import BaseModel
from sqlalchemy import select

from wherestood.daybook.gazetteer import offered_features
from wherestood.daybook.gazetteer.offer import years_of_plate
from wherestood.daybook.question import main_scan
from wherestood.daybook.tables import (
    Detail,
    Feature,
    FeatureName,
    Mark,
    Statement,
)
from wherestood.errors import InputError
from wherestood.server.desk import Book, DeskNeeded
from wherestood.server.forms.items import ITEM_FORMS
from wherestood.server.forms.looking import (
    Lettered,
    OfferedFeature,
    SaidOfPlace,
    Tied,
)
from wherestood.server.routes.items import Why, item_of, refuse_older, tell

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["looking"])
_Detail: Any = ITEM_FORMS["details"].whole
_Mark: Any = ITEM_FORMS["marks"].whole
_Statement: Any = ITEM_FORMS["statements"].whole


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
        refuse_older(mark, given.revision)
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
