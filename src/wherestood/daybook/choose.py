"""Choose items by words, by map box, by plate and by what their columns hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar, cast

from sqlalchemy import ColumnElement, Select, and_, func, inspect, or_, select
from sqlalchemy.orm import Session, aliased

from wherestood.daybook.counted import an
from wherestood.daybook.index_words import folded
from wherestood.daybook.tables import About, Fix, Item, OnPlate, Plate, Words
from wherestood.errors import InputError

__all__ = ["Box", "Wanted", "choose", "chosen_ids", "count", "page"]

_I = TypeVar("_I", bound=Item)
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Wanted:
    """Say which items are wanted.

    Attributes
    ----------
    words : str
        Words that all stand in the item or, of a plate, in anything on it; parts
        of words count, case and accents do not.
    box : (west, south, east, north) or None
        Where it lies [deg]; west is above east across the 180th meridian.
    plate_id : str or None
        The plate it concerns.
    values : mapping
        What columns hold, by name.
    removed : bool or None
        Whether it was set aside; None for both.
    limit, offset : int or None, int
        How many, and after how many.
    """

    words: str = ""
    box: Box | None = None
    plate_id: str | None = None
    values: Mapping[str, Any] = field(default_factory=dict)
    removed: bool | None = False
    limit: int | None = None
    offset: int = 0


def choose(session: Session, kind: type[_I], wanted: Wanted) -> Sequence[_I]:
    """Return the items wanted, by key.

    Raises
    ------
    InputError
        If such items have no place, or no such column.
    """
    chosen = _chosen(select(kind), kind, wanted).order_by(*_order(kind))
    chosen = chosen.limit(wanted.limit).offset(wanted.offset or None)
    return session.scalars(chosen).all()


def chosen_ids(session: Session, kind: type[Item], wanted: Wanted) -> list[str]:
    """Return the ids of the items wanted, by key, without loading them."""
    chosen = _chosen(select(kind.id), kind, wanted).order_by(*_order(kind))
    return list(session.scalars(chosen))


def count(session: Session, kind: type[Item], wanted: Wanted) -> int:
    """Return how many items are wanted in all, whatever the limit."""
    chosen = _chosen(select(func.count()).select_from(kind), kind, wanted)
    return session.scalar(chosen) or 0


def page(session: Session, kind: type[_I], wanted: Wanted) -> tuple[Sequence[_I], int]:
    """Return the items wanted, and how many there are whatever the limit.

    Words are looked for once, and not again for counting.
    """
    if wanted.limit is None:
        items = choose(session, kind, wanted)
        return items, len(items) + wanted.offset
    chosen = _chosen(select(kind.id), kind, wanted).order_by(*_order(kind))
    found = session.scalars(chosen).all()
    shown = found[wanted.offset : wanted.offset + wanted.limit]
    loaded = session.scalars(select(kind).where(kind.id.in_(shown)))
    by_id = {item.id: item for item in loaded}
    return [by_id[one] for one in shown], len(found)


def _order(kind: type[Item]) -> list[Any]:
    """Return by what items are ordered: ``lead-2`` goes before ``lead-10``."""
    column: Any = kind.key  # type: ignore[attr-defined]
    if issubclass(kind, OnPlate):
        plate = select(Plate.key).where(Plate.id == kind.plate_id).scalar_subquery()
        return [plate, func.length(column), column]
    numbered = kind is not Plate and not kind.__tablename__.startswith("feature")
    return [func.length(column), column] if numbered else [column]


def _chosen(chosen: Select[Any], kind: type[Item], wanted: Wanted) -> Select[Any]:
    columns = inspect(kind).columns
    if wanted.removed is not None:
        chosen = chosen.where(kind.removed.is_(wanted.removed))
    if wanted.plate_id is not None:
        chosen = chosen.where(_of_plate(kind, wanted.plate_id))
    for name, value in wanted.values.items():
        if name not in columns:
            raise InputError(
                f"{an(kind.singular).capitalize()} has no {name!r}.",
                f"Choose one of: {', '.join(sorted(columns.keys()))}.",
            )
        chosen = chosen.where(columns[name] == value)
    for word in folded(wanted.words).split():
        chosen = chosen.where(_has_word(kind, word))
    if wanted.box is not None:
        chosen = chosen.where(_lies_in(kind, wanted.box))
    return chosen


def _of_plate(kind: type[Item], plate_id: str) -> ColumnElement[bool]:
    if not hasattr(kind, "plate_id"):
        raise InputError(
            f"{an(kind.singular).capitalize()} belongs to no plate.",
            "Leave --plate out.",
        )
    return cast("ColumnElement[bool]", kind.plate_id == plate_id)


def _has_word(kind: type[Item], word: str) -> ColumnElement[bool]:
    holds = Words.text.contains(word, autoescape=True)
    if kind is Plate:
        return kind.id.in_(select(Words.plate_id).where(holds))
    table = kind.__tablename__
    holding = select(Words.item_id).where(holds, Words.table_name == table)
    return kind.id.in_(holding)


def _lies_in(kind: type[Item], box: Box) -> ColumnElement[bool]:
    west, south, east, north = box
    if kind is Plate:
        return kind.id.in_(_plates_in(box))
    if hasattr(kind, "lon_deg"):
        place: Any = kind
        lat = place.lat_deg.between(south, north)
        return and_(lat, _between(place.lon_deg, west, east))
    if hasattr(kind, "west_deg"):
        edges: Any = kind
        lat = and_(edges.south_deg <= north, edges.north_deg >= south)
        if west <= east:
            return and_(lat, edges.west_deg <= east, edges.east_deg >= west)
        return and_(lat, or_(edges.west_deg <= east, edges.east_deg >= west))
    if issubclass(kind, OnPlate | About):
        return kind.plate_id.in_(_plates_in(box))
    if hasattr(kind, "plate_id"):
        return cast("ColumnElement[bool]", kind.plate_id.in_(_plates_in(box)))
    raise InputError(
        f"{an(kind.singular).capitalize()} has no place.", "Leave --box out."
    )


def _plates_in(box: Box) -> Select[Any]:
    """Return the plates whose newest fix that stands lies in a box."""
    west, south, east, north = box
    later = aliased(Fix)
    newer = select(later.id).where(
        later.plate_id == Fix.plate_id, later.made > Fix.made, later.removed.is_(False)
    )
    return select(Fix.plate_id).where(
        Fix.removed.is_(False),
        Fix.lat_deg.between(south, north),
        _between(Fix.lon_deg, west, east),
        ~newer.exists(),
    )


def _between(column: Any, west: float, east: float) -> ColumnElement[bool]:
    if west <= east:
        return cast("ColumnElement[bool]", column.between(west, east))
    return or_(column >= west, column <= east)
