"""Keep in which boxes and on which shelves a collection's glass stands, and weigh it.

All of it is one setting of the daybook: shelves with what they may carry, boxes with
the shelf they stand on, lots of plates by size, and plates of the daybook by their own
sizes.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.dating.glass_store import (
    THICKNESS_MM,
    GlassLot,
    ShelfLoad,
    glass_kg,
    shelf_load,
)
from wherestood.daybook.book import Daybook
from wherestood.daybook.keys import find
from wherestood.daybook.tables import Plate, Setting
from wherestood.errors import InputError, PlateError
from wherestood.plate.formats import size_mm

__all__ = [
    "Box",
    "BoxTold",
    "Lot",
    "ShelfTold",
    "StoreTold",
    "keep_box",
    "read_lot",
    "store_told",
    "take_away",
]

KEY = "plate store"
_LOT = re.compile(r"^\s*(\d+)\s*,\s*([^,]+?)\s*(?:,\s*(\d+(?:\.\d+)?)\s*(?:mm)?\s*)?$")
#: Glass; prints weigh nothing that a shelf would notice.
_GLASS = (None, "glass negative", "direct positive")


@dataclass(frozen=True)
class Lot:
    """Be some plates of one size, as they were counted.

    Attributes
    ----------
    count : int
    size : str
        As written: ``whole plate``, ``216x165mm``.
    thickness_mm : float or None
        By the kind of the box unless told [mm].
    """

    count: int
    size: str
    thickness_mm: float | None = None

    def glass(self, kind: str) -> GlassLot:
        """Return it as glass of a kind."""
        long_mm, short_mm = size_mm(self.size)
        thick = THICKNESS_MM[kind] if self.thickness_mm is None else self.thickness_mm
        return GlassLot(self.count, long_mm, short_mm, thick)


@dataclass(frozen=True)
class Box:
    """Be a box of plates.

    Attributes
    ----------
    name, shelf : str
        Its own, and that of the shelf it stands on.
    kind : str
        Of its glass, a key of `THICKNESS_MM`.
    lots : tuple of Lot
        What was counted in it.
    plates : tuple of str
        Ids of the daybook's plates that lie in it.
    """

    name: str
    shelf: str
    kind: str = "dry plate"
    lots: tuple[Lot, ...] = ()
    plates: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Store:
    boxes: dict[str, Box] = field(default_factory=dict)
    limits_kg: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class BoxTold:
    """Say what a box weighs.

    Attributes
    ----------
    name : str
    plates : int
        How many.
    glass_kg : float
        The glass alone [kg].
    holds : tuple of str
        Its lots, and the keys of plates in it, in words.
    """

    name: str
    plates: int
    glass_kg: float
    holds: tuple[str, ...] = ()


@dataclass(frozen=True)
class ShelfTold:
    """Say what a shelf carries; ``load`` is None where no limit is known."""

    name: str
    boxes: tuple[BoxTold, ...]
    load: ShelfLoad | None


@dataclass(frozen=True)
class StoreTold:
    """Hold what every shelf carries.

    Attributes
    ----------
    shelves : tuple of ShelfTold
    loose : BoxTold
        Glass of the daybook that lies in no box.
    left_out : tuple of str
        Plates that cannot be weighed, and why.
    """

    shelves: tuple[ShelfTold, ...]
    loose: BoxTold
    left_out: tuple[str, ...]


def read_lot(text: str) -> Lot:
    """Read a lot: ``20,whole plate`` or ``12,10x8in,2.5``.

    Raises
    ------
    InputError
        If it cannot be read.
    PlateError
        If nothing is known of the size.
    """
    found = _LOT.match(text)
    if found is None:
        raise InputError(
            f"The lot {text!r} cannot be read.",
            "Write how many, their size and, if known, the thickness in mm: "
            "20,whole plate,2.5.",
        )
    size_mm(found[2])
    return Lot(int(found[1]), found[2], None if found[3] is None else float(found[3]))


def keep_box(
    book: Daybook,
    box: Box,
    put: Sequence[str],
    limit_kg: float | None,
    person: str,
    why: str = "",
) -> None:
    """Keep a box, and what its shelf may carry; lots that are given replace its own.

    Parameters
    ----------
    book : Daybook
    box : Box
        As it is now; without lots those counted before stay.
    put : sequence of str
        Keys of plates that are laid into it, out of any other.
    limit_kg : float or None
        What its shelf may carry, where that is told [kg].
    person, why : str
        Who keeps it, and why.

    Raises
    ------
    InputError
        If there is no such plate, or the limit is not above zero.
    """
    if limit_kg is not None:
        shelf_load([], limit_kg)
    with book.writing(person, why) as session:
        row = _row(session)
        store = _read(row)
        laid = tuple(find(session, Plate, key).id for key in put)
        boxes = {
            name: replace(one, plates=tuple(p for p in one.plates if p not in laid))
            for name, one in store.boxes.items()
        }
        before = boxes.get(box.name)
        stay = () if before is None else before.plates
        lots = box.lots or (() if before is None else before.lots)
        boxes[box.name] = replace(box, lots=lots, plates=(*stay, *laid))
        limits = dict(store.limits_kg)
        if limit_kg is not None:
            limits[box.shelf] = limit_kg
        value = {
            "boxes": [asdict(one) for one in boxes.values()], "limits_kg": limits,
        }  # fmt: skip
        if row is None:
            session.add(Setting(key=KEY, value=value))
        else:
            row.value, row.removed = value, False


def take_away(book: Daybook, name: str, person: str, why: str = "") -> None:
    """Take a box out of the daybook; its plates lie in none.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    with book.writing(person, why) as session:
        row = _row(session)
        boxes = _read(row).boxes
        if row is None or name not in boxes:
            raise InputError(
                f"No box is called {name!r}.",
                f"There are: {', '.join(boxes) or 'none yet'}.",
            )
        stay = [asdict(one) for one in boxes.values() if one.name != name]
        row.value = {**(row.value or {}), "boxes": stay}


def store_told(session: Session) -> StoreTold:
    """Weigh every box and shelf, plates of the daybook by their own sizes."""
    store = _read(_row(session))
    plates = {
        one.id: one
        for one in session.scalars(
            select(Plate).where(Plate.removed.is_(False), Plate.withdrawn.is_(None))
        )
        if one.process in _GLASS
    }
    left_out: list[str] = []
    shelves: dict[str, list[tuple[BoxTold, list[GlassLot]]]] = {}
    boxed: set[str] = set()
    for box in store.boxes.values():
        mine = [plates[one] for one in box.plates if one in plates]
        boxed.update(one.id for one in mine)
        lots = [lot.glass(box.kind) for lot in box.lots]
        lots += _of_plates(mine, box.kind, left_out)
        holds = tuple(f"{lot.count} of {lot.size}" for lot in box.lots)
        told = _told(box.name, lots, (*holds, *sorted(one.key for one in mine)))
        shelves.setdefault(box.shelf, []).append((told, lots))
    loose = [one for key, one in plates.items() if key not in boxed]
    return StoreTold(
        tuple(
            ShelfTold(
                shelf, tuple(told for told, _ in boxes),
                _load([lot for _, lots in boxes for lot in lots],
                      store.limits_kg.get(shelf)),
            )
            for shelf, boxes in sorted(shelves.items())
        ),
        _told("", _of_plates(loose, "dry plate", left_out)),
        tuple(left_out),
    )  # fmt: skip


def _load(lots: list[GlassLot], limit_kg: float | None) -> ShelfLoad | None:
    return None if limit_kg is None else shelf_load(lots, limit_kg)


def _told(name: str, lots: list[GlassLot], holds: tuple[str, ...] = ()) -> BoxTold:
    return BoxTold(name, sum(lot.count for lot in lots), glass_kg(lots), holds)


def _of_plates(
    plates: Sequence[Plate], kind: str, left_out: list[str]
) -> list[GlassLot]:
    """Return plates as glass, each by the size that is kept of it."""
    found = []
    for plate in sorted(plates, key=lambda one: one.key):
        if not plate.size:
            left_out.append(f"{plate.key} is not weighed: its size is not known.")
            continue
        try:
            found.append(Lot(1, plate.size).glass(kind))
        except PlateError as trouble:
            left_out.append(f"{plate.key} is not weighed: {trouble.problem}")
    return found


def _row(session: Session) -> Setting | None:
    return session.scalars(select(Setting).where(Setting.key == KEY)).first()


def _read(row: Setting | None) -> _Store:
    value: dict[str, Any] = {} if row is None or row.removed else row.value or {}
    boxes = [
        Box(
            one["name"], one["shelf"], one["kind"],
            tuple(Lot(**lot) for lot in one["lots"]), tuple(one["plates"]),
        )
        for one in value.get("boxes", [])
    ]  # fmt: skip
    return _Store({one.name: one for one in boxes}, value.get("limits_kg", {}))
