"""Date a plate by plates that are older or younger, as a daybook keeps them.

What one plate shows and another lacks says which is the older. Each such pair is kept
as evidence of the younger plate, and reaches every plate that pairs join, directly or
over others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.dating.items import BesidePlate, Item
from wherestood.dating.order import (
    Older,
    has_ring,
    joined,
    order_together,
    told_beside,
)
from wherestood.dating.seen_on_plate import OlderPlate, read_seen
from wherestood.dating.weigh import Weighed
from wherestood.daybook.date_items import TRUST
from wherestood.daybook.keys import find
from wherestood.daybook.tables import Evidence, Plate
from wherestood.errors import InputError, WherestoodError

__all__ = ["KIND", "PlateGiven", "items_by_order", "read_orders"]

KIND = "older_plate"
#: Draws where pairs close a ring are the same each time a plate is asked about.
SEED = 1871


@dataclass(frozen=True)
class PlateGiven:
    """Be another plate that is given as older, or as younger.

    Attributes
    ----------
    key : str
        The other plate's.
    is_older : bool
        Whether that one is the older.
    trust : float
        How probable it is right.
    """

    key: str
    is_older: bool
    trust: float


@dataclass(frozen=True)
class _Pair:
    """Be one order of two plates, with what it is called by."""

    name: str
    older: str
    younger: str
    because: str
    trust: float


def read_orders(older: Sequence[str], younger: Sequence[str]) -> list[PlateGiven]:
    """Read plates that are older and younger, each with its trust: ``1987.12,0.8``.

    Raises
    ------
    InputError
        If a trust is not between 0 and 1.
    """
    return [
        *(_read_given(one, is_older=True) for one in older),
        *(_read_given(one, is_older=False) for one in younger),
    ]


def _read_given(text: str, *, is_older: bool) -> PlateGiven:
    key, comma, last = text.rpartition(",")
    try:
        trust = float(last) if comma else TRUST
    except ValueError:
        key, trust = text, TRUST
    if not 0.0 <= trust <= 1.0:
        raise InputError(
            f"The trust in {text!r} must lie between 0 and 1.",
            "Write how probable it is right: 1987.12,0.9 is nine times in ten.",
        )
    return PlateGiven((key if comma else text).strip(), is_older, trust)


def items_by_order(
    session: Session,
    plate: Plate,
    own: Weighed,
    given: Sequence[PlateGiven],
    alone: Callable[[Plate], Weighed],
) -> tuple[list[Item], list[str]]:
    """Make items of the plates known to be older or younger.

    Parameters
    ----------
    session : Session
        Of the daybook.
    plate : Plate
        The plate asked about.
    own : Weighed
        Its months by all else.
    given : sequence of PlateGiven
        Orders that are given beside those kept.
    alone : callable
        Gives the months of another plate by its own dates, of the same range.

    Returns
    -------
    items : list of Item
        One for each other plate; one for all where the pairs close a ring, for there
        what they say is no longer independent.
    left_out : list of str
        What counts nothing, and why.
    """
    kept, left_out = _kept(session)
    pairs = [*kept, *(_given(session, plate, one) for one in given)]
    pairs = _reached(plate.id, pairs)
    if not pairs:
        return [], left_out
    wanted = {one.older for one in pairs} | {one.younger for one in pairs}
    plates = {one: session.get_one(Plate, one) for one in wanted}
    weighed = {
        one: own if one == plate.id else alone(plates[one]) for one in sorted(wanted)
    }
    for one, found in weighed.items():
        if not found.possible and one != plate.id:
            left_out.append(
                f"The dates of {plates[one].key} contradict one another; what is older "
                "or younger than it counts nothing until they are settled."
            )
            return [], left_out
    months = {one: found.probability for one, found in weighed.items()}
    two = joined([Older(o.older, o.younger, o.because, o.trust) for o in pairs])
    if has_ring(two):
        return _in_a_ring(plate, own, months, two, pairs, left_out), left_out
    items: list[Item] = []
    for pair in two:
        if plate.id not in (pair.older, pair.younger):
            continue
        agrees = told_beside(plate.id, pair, months, two)
        other = plates[pair.older if pair.younger == plate.id else pair.younger]
        if agrees is None:
            left_out.append(f"The dates and the order of {other.key} contradict.")
            continue
        which = "older" if pair.younger == plate.id else "younger"
        items.append(
            BesidePlate(
                " + ".join(_names(pairs, pair)),
                f"{other.key} is {which}" + (pair.because and f": {pair.because}"),
                int(own.months[0]), _shares(agrees), trust=pair.trust,
            )
        )  # fmt: skip
    return items, left_out


def _kept(session: Session) -> tuple[list[_Pair], list[str]]:
    """Return the orders that the daybook keeps, of plates that are there."""
    rows = session.execute(
        select(Evidence, Plate)
        .join(Plate, Plate.id == Evidence.plate_id)
        .where(
            Evidence.kind == KIND, Evidence.removed.is_(False),
            Evidence.withdrawn.is_(None), Plate.removed.is_(False),
            Plate.withdrawn.is_(None),
        )
        .order_by(Plate.key, Evidence.key)
    )  # fmt: skip
    found: list[_Pair] = []
    left_out: list[str] = []
    for row, younger in rows:
        name = f"{younger.key}/{row.key}"
        try:
            seen = read_seen(row.kind, row.content, name)
        except WherestoodError as trouble:
            left_out.append(f"{name} is left out: {trouble.problem}")
            continue
        assert isinstance(seen, OlderPlate)
        older = session.get(Plate, seen.plate_id)
        if older is None or older.removed or older.withdrawn or older is younger:
            left_out.append(
                f"{name} is left out: the older plate is not in this daybook."
            )
            continue
        because = str((row.content or {}).get("what") or row.note or "")
        trust = TRUST if row.trust is None else row.trust
        found.append(_Pair(name, older.id, younger.id, because, trust))
    return found, left_out


def _given(session: Session, plate: Plate, given: PlateGiven) -> _Pair:
    other = find(session, Plate, given.key)
    if other is plate:
        raise InputError(
            f"The plate {plate.key!r} cannot be older than itself.",
            "Name another plate.",
        )
    older, younger = (other, plate) if given.is_older else (plate, other)
    name = f"the order given with {other.key}"
    return _Pair(name, older.id, younger.id, "", given.trust)


def _reached(plate_id: str, pairs: Iterable[_Pair]) -> list[_Pair]:
    """Return the pairs that reach a plate, directly or over others."""
    left, found, reached = list(pairs), list[_Pair](), {plate_id}
    while True:
        near = [one for one in left if reached & {one.older, one.younger}]
        if not near:
            return found
        found += near
        reached |= {end for one in near for end in (one.older, one.younger)}
        left = [one for one in left if one not in near]


def _names(pairs: Sequence[_Pair], of: Older) -> list[str]:
    return [
        one.name for one in pairs if (one.older, one.younger) == (of.older, of.younger)
    ]


def _shares(agrees: NDArray[np.float64]) -> tuple[float, ...]:
    return tuple(float(one) for one in np.clip(agrees, 0.0, 1.0))


def _in_a_ring(
    plate: Plate,
    own: Weighed,
    months: dict[str, NDArray[np.float64]],
    two: Sequence[Older],
    pairs: Sequence[_Pair],
    left_out: list[str],
) -> list[Item]:
    # Every month alike for the plate asked about: what comes back is the others' say.
    asked = months | {plate.id: np.full(len(own.months), 1.0 / len(own.months))}
    found = order_together(asked, two, np.random.default_rng(SEED))
    if found is None:
        left_out.append(
            "The orders of plates contradict one another, and count nothing: "
            f"{', '.join(one.name for one in pairs)}."
        )
        return []
    told = found[plate.id]
    others = "its place in an order of plates that closes a ring"
    shares = _shares(told / told.max())
    name = " + ".join(one.name for one in pairs)
    return [BesidePlate(name, others, int(own.months[0]), shares)]
