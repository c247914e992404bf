"""Refuse marks and crops that do not lie on the scan they are of."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import inspect
from sqlalchemy.orm import Session, object_session

from wherestood.daybook.main_scan import main_scan
from wherestood.daybook.tables import (
    OF_TIME,
    Detail,
    Evidence,
    Item,
    Mark,
    Plate,
    Scan,
)
from wherestood.daybook.typed_lists import is_held
from wherestood.errors import InputError

__all__ = ["refuse_off_the_picture"]

#: A mark set on the very edge may come out a little beyond it.
_EDGE_PX = 1.0
#: The column that holds the places.
_FIELD: dict[type[Item], str] = {
    Mark: "points_px", Detail: "crop_px", Evidence: "content",
}  # fmt: skip


def refuse_off_the_picture(item: Item, name: str) -> None:
    """Refuse a mark or a detail of which a new place is off its scan.

    Parameters
    ----------
    item : Item
        Any; marks, details and what tells of the time have places on a scan.
    name : str
        What messages call it.

    Raises
    ------
    InputError
        Naming the place and the scan's size. What lies off a scan of which no size
        is known, or on a plate without scans, is let be.
    """
    session = object_session(item)
    if session is None or not isinstance(item, Mark | Detail | Evidence):
        return
    if isinstance(item, Evidence) and item.kind not in OF_TIME:
        return
    field = _FIELD[type(item)]
    state: Any = inspect(item)
    moved = state.attrs
    if not (moved[field].history.has_changes() or moved.scan_id.history.has_changes()):
        return
    places = list(_places(item))
    with session.no_autoflush:
        scan = _scan_of(session, item) if places else None
    if scan is None or scan.width_px is None or scan.height_px is None:
        return
    for x, y in places:
        inside = (
            -_EDGE_PX <= x <= scan.width_px + _EDGE_PX
            and -_EDGE_PX <= y <= scan.height_px + _EDGE_PX
        )
        if not inside:
            raise InputError(
                f"The {name} has the place {x:g}, {y:g} px, off its scan, which is "
                f"{scan.width_px} x {scan.height_px} px.",
                "Give x from the left and y from the top, in the scan's own pixels.",
            )


def _places(item: Mark | Detail | Evidence) -> Iterator[tuple[float, float]]:
    if isinstance(item, Mark):
        yield from ((x, y) for x, y in item.points_px or ())
    elif isinstance(item, Evidence):
        points: Any = (item.content or {}).get("points_px")
        if is_held(points, "points"):
            yield from ((x, y) for x, y in points)
    elif item.crop_px:
        left, top, width, height = item.crop_px
        yield left, top
        yield left + width, top + height


def _scan_of(session: Session, item: Mark | Detail | Evidence) -> Scan | None:
    if item.scan_id is not None:
        return session.get(Scan, item.scan_id)
    plate = session.get(Plate, item.plate_id)
    return main_scan(session, plate) if plate is not None else None
