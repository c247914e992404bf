"""Gather what a plate shows of its hour, season and making, out of a daybook.

What was marked on another scan of the plate is carried to the main one; where corners
are marked there, the places are those of the straightened plate if a fix was made so.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from wherestood.dating.seen_on_plate import OF_TIME, Named, SeenThing, read_seen
from wherestood.daybook.carried import Carrying, carried_content
from wherestood.daybook.tables import Evidence, Plate
from wherestood.errors import WherestoodError

__all__ = ["Kept", "Places", "SeenKept", "seen_kept", "water_sentences"]

#: Carries places of the scan to where the camera of a fix sees them.
Places = Callable[[list[list[float]]], list[list[float]]]


@dataclass(frozen=True)
class Kept:
    """Be one thing that a plate shows, as the daybook keeps it.

    Attributes
    ----------
    id, key, kind : str
        The item's.
    what : str
        What it is of, in a person's words; may be empty.
    seen : SeenThing
        Read, its places on the main scan or the straightened plate.
    trust : float or None
        How probable it is right, where somebody said.
    points_px : list of (x, y)
        Its places, as ``seen`` has them [px].
    """

    id: str
    key: str
    kind: str
    what: str
    seen: SeenThing
    trust: float | None
    points_px: list[list[float]]


@dataclass(frozen=True)
class SeenKept:
    """Hold what a plate shows, and what of it counts nothing and why."""

    items: tuple[Kept, ...]
    left_out: tuple[str, ...]

    def of(self, *kinds: str) -> list[Kept]:
        """Return the things of some kinds."""
        return [kept for kept in self.items if kept.kind in kinds]


def seen_kept(
    session: Session,
    plate: Plate,
    kinds: Collection[str] = tuple(OF_TIME),
    places: Places | None = None,
) -> SeenKept:
    """Gather what a plate shows of its hour, season and making.

    Parameters
    ----------
    session : Session
        Of the daybook.
    plate : Plate
        The plate.
    kinds : collection of str
        Kinds wanted; all unless told.
    places : callable, optional
        Carries places on the main scan on to the straightened plate.

    Returns
    -------
    SeenKept
        By kind, then by key. What cannot be read is left out with a sentence.
    """
    wanted = select(Evidence).where(
        Evidence.plate_id == plate.id,
        Evidence.kind.in_(list(kinds)),
        Evidence.removed.is_(False),
        Evidence.withdrawn.is_(None),
    )
    rows = session.scalars(wanted.order_by(func.length(Evidence.key), Evidence.key))
    order = list(OF_TIME)
    carrying: Carrying | None = None
    items: list[Kept] = []
    left_out: list[str] = []
    for row in sorted(rows, key=lambda row: order.index(row.kind)):
        content: dict[str, Any] | None = dict(row.content or {})
        if (row.content or {}).get("points_px"):
            carrying = carrying or Carrying(session, plate)
            content = _carried(carrying, row)
        if content is None:
            left_out.append(
                f"{row.key} is left out: it was marked on a scan that is not laid over "
                "the main one."
            )
            continue
        if places is not None and content.get("points_px"):
            content["points_px"] = places(content["points_px"])
        try:
            seen = read_seen(row.kind, content, row.key)
        except WherestoodError as trouble:
            left_out.append(f"{row.key} is left out: {trouble.problem}")
            continue
        items.append(
            Kept(
                row.id, row.key, row.kind, str(content.get("what") or row.note or ""),
                seen, row.trust, list(content.get("points_px") or ()),
            )
        )  # fmt: skip
    return SeenKept(tuple(items), tuple(left_out))


def water_sentences(kept: SeenKept) -> list[str]:
    """Return why what is seen of tide and flood counts nothing, a sentence each."""
    return [
        f"{one.key} ({one.seen.name}) is kept as it was seen: no tide or flood is "
        "foretold."
        for one in kept.of("water_seen")
        if isinstance(one.seen, Named)
    ]


def _carried(carrying: Carrying, row: Evidence) -> dict[str, Any] | None:
    """Return its record on the main scan; None where there is no way to it."""
    content = dict(row.content or {})
    if not carrying.needed(row.scan_id):
        return content
    source, way = carrying.scan(row.scan_id), carrying.way(row.scan_id)
    if source is None or way is None or carrying.onto is None:
        return None
    return carried_content(way, content, source, carrying.onto)
