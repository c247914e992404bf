"""Keep what was given beside as things that a plate shows."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

from sqlalchemy.orm import Session

from wherestood.dating.seen_on_plate import HourKnown
from wherestood.dating.shadow_points import LEVEL_GROUND, Ground
from wherestood.daybook.book import Daybook
from wherestood.daybook.keys import find
from wherestood.daybook.named_items import given_items
from wherestood.daybook.plates_in_order import KIND, PlateGiven, read_orders
from wherestood.daybook.region import region_with
from wherestood.daybook.tables import Evidence, Plate
from wherestood.daybook.when_exposed import Given, given_marks
from wherestood.errors import InputError

__all__ = ["keep_given"]


def keep_given(
    book: Daybook,
    key: str,
    given: Given,
    person: str,
    why: str = "",
    because: str = "",
) -> tuple[Given, tuple[str, ...]]:
    """Keep marks, names, the hour and orders that are given, all in one act.

    Parameters
    ----------
    book : Daybook
    key : str
        The plate's.
    given : Given
        What is given beside what the daybook keeps.
    person, why : str
        Who keeps it, and why.
    because : str
        What tells the order of plates.

    Returns
    -------
    given : Given
        What is left to be given, now that the rest is kept.
    kept : tuple of str
        What was kept, a sentence each.

    Raises
    ------
    InputError
        If something cannot be read; then nothing is kept.
    """
    records = [*_marks(given), *(("season", {"sign": one}) for one in given.signs)]
    records += [("period", {"name": one}) for one in given.periods]
    sentences = []
    with book.writing(person, why) as session:
        plate = find(session, Plate, key)
        # A name that no table has is refused rather than kept.
        region = region_with(session, given.own_periods, given.own_signs)
        given_items(given.periods, (), region, None)
        for kind, content in records:
            item = Evidence(plate_id=plate.id, kind=kind, content=content)
            session.add(item)
            session.flush()
            sentences.append(f"Kept {plate.key}/{item.key}: {kind.replace('_', ' ')}.")
        for order in read_orders(given.after_plates, given.before_plates):
            sentences.append(_keep_order(session, plate, order, because))
    left = replace(
        given, after_plates=(), before_plates=(), shadows=(), edges=(), lit=(),
        unlit=(), slope=None, signs=(), periods=(), hour=None,
        day=None if given.hour is not None else given.day,
    )  # fmt: skip
    return left, tuple(sentences)


def _keep_order(session: Session, plate: Plate, order: PlateGiven, because: str) -> str:
    """Keep an order as evidence of the younger plate; return the sentence."""
    other = find(session, Plate, order.key)
    if other is plate:
        raise InputError(
            f"The plate {plate.key!r} cannot be older than itself.",
            "Name another plate.",
        )
    older, younger = (other, plate) if order.is_older else (plate, other)
    content = {"plate_id": older.id} | ({"what": because} if because else {})
    item = Evidence(plate_id=younger.id, kind=KIND, content=content, trust=order.trust)
    session.add(item)
    session.flush()
    return f"Kept {younger.key}/{item.key}: {older.key} is the older plate."


def _marks(given: Given) -> list[tuple[str, dict[str, Any]]]:
    marked = given_marks(given)
    records: list[tuple[str, dict[str, Any]]] = []
    for _, shadow in marked.shadows:
        top = [] if shadow.top_px is None else [list(shadow.top_px)]
        points = [list(shadow.foot_px), list(shadow.tip_px), *top]
        records.append(("shadow", {"points_px": points, **_slope(shadow.ground)}))
    for _, edge in marked.edges:
        places = [list(one) for one in (edge.foot_px, edge.top_px, edge.shadow_px)]
        content = {"points_px": places, "bearing_deg": edge.bearing_deg}
        records.append(("shadow_edge", {**content, **_slope(edge.ground)}))
    for _, face in marked.faces:
        records.append(("lit_face", {"looks_deg": face.looks_deg, "lit": face.lit}))
    records += [("hour", _hour(hour, given)) for _, hour in marked.hours]
    return records


def _slope(ground: Ground) -> dict[str, Any]:
    if ground == LEVEL_GROUND:
        return {}
    told = asdict(ground)
    return {"rise_deg": told["rise_deg"], "rise_towards_deg": told["towards_deg"]}


def _hour(hour: HourKnown, given: Given) -> dict[str, Any]:
    told = {
        "hour": (given.hour or "").strip(), "clock": hour.clock,
        "zone_hours": hour.zone_hours, "day": given.day,
    }  # fmt: skip
    return {name: value for name, value in told.items() if value is not None}
