"""Warn of places told more closely than others that stand by them.

Two plates exposed from one spot are one place: who publishes the one, publishes the
other. Panoramas are known to share their station; of others only a person can say. Two
squares side by side tell the border between them, where they are of one place.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pyproj
from sqlalchemy import select

from wherestood.daybook.decide import standing_decisions
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.precision import FREE, Restricted, restricted_plates
from wherestood.daybook.public.coarse import coarse_place
from wherestood.daybook.tables import (
    PRECISIONS,
    Decision,
    Fix,
    Plate,
    ProposedPosition,
)

__all__ = ["NEAR_M", "ONE_SPOT", "near_hidden"]

#: So near a place tells nearly all of one that is hidden to a square or more [m].
NEAR_M = 1000.0
#: Answers no farther apart may be of one spot, as a share of their squares' side. Ours.
ONE_SPOT = 0.25
_WGS84 = pyproj.Geod(ellps="WGS84")
_REMEDY = "Restrict it too, or leave it out."


@dataclass(frozen=True)
class _Stood:
    """Hold where a plate's camera may have stood, and how closely that is told."""

    plate_id: str
    key: str
    lon_deg: float
    lat_deg: float
    precision: str
    is_decided: bool

    @property
    def step(self) -> int:
        """Return how coarsely it is told: 0 as it is known."""
        return PRECISIONS.index(self.precision)

    @property
    def square(self) -> tuple[float, float] | None:
        """Return the middle of the square it is told by; None without one."""
        place = coarse_place(self.lon_deg, self.lat_deg, self.precision)
        if place is None or place.side_m is None:
            return None
        return place.lon_deg, place.lat_deg

    @property
    def side_m(self) -> float:
        """Return the side of that square; 0 without one [m]."""
        place = coarse_place(self.lon_deg, self.lat_deg, self.precision)
        return 0.0 if place is None or place.side_m is None else place.side_m

    @property
    def is_told(self) -> bool:
        """Tell whether a public copy would tell where it is, roughly or not.

        Of a plate told as it is known every answer counts, decided on or not: the next
        decision may be for it.
        """
        return self.step == 0 or (self.is_decided and self.square is not None)


def near_hidden(session: DaybookSession, plates: Sequence[Plate]) -> tuple[str, ...]:
    """Return a sentence for each plate whose telling tells more than may be told.

    Those told more closely than one that stands by them; those told by a square beside
    that of another from the same spot, or beside one they were told by before. Hidden
    plates count whether they are handed out or not; every station that any of their
    fixes found counts, and every one that somebody proposed.
    """
    limits = restricted_plates(session)
    if all(one.is_exact for one in limits.values()):
        return ()
    handed = {plate.id for plate in plates}
    stood = list(_stood(session, limits))
    told = [one for one in stood if one.plate_id in handed and one.is_told]
    return (*_by_others(told, stood), *_by_earlier_squares(session, told))


def _stood(
    session: DaybookSession, limits: Mapping[str, Restricted]
) -> Iterator[_Stood]:
    """Give every station that fixes found, or that somebody proposed."""
    standing = standing_decisions(session).values()
    decided = {one.fix_id for one in standing} | {
        one.proposed_position_id for one in standing
    }
    for kind in (Fix, ProposedPosition):
        wanted = (
            select(Plate.key, kind.id, kind.plate_id, kind.lon_deg, kind.lat_deg)
            .join(Plate, Plate.id == kind.plate_id)
            .where(
                kind.removed.is_(False), kind.withdrawn.is_(None),
                kind.lon_deg.is_not(None), kind.lat_deg.is_not(None),
            )
        )  # fmt: skip
        for key, one, plate_id, lon_deg, lat_deg in session.execute(wanted):
            limit = limits.get(plate_id, FREE)
            is_decided = one in decided
            if kind is ProposedPosition and limit.is_exact and not is_decided:
                continue  # told only where a person decided on it
            assert lon_deg is not None
            assert lat_deg is not None
            yield _Stood(plate_id, key, lon_deg, lat_deg, limit.precision, is_decided)


def _by_others(told: Sequence[_Stood], stood: Sequence[_Stood]) -> Iterator[str]:
    hidden = [one for one in stood if one.step > 0]
    if not told or not hidden:
        return
    lon_deg = np.array([one.lon_deg for one in told])
    lat_deg = np.array([one.lat_deg for one in told])
    steps = np.array([one.step for one in told])
    sides_m = np.array([one.side_m for one in told])
    said: dict[tuple[str, str], tuple[float, str]] = {}
    for other in hidden:
        there_lon_deg = np.full(len(told), other.lon_deg)
        there_lat_deg = np.full(len(told), other.lat_deg)
        _, _, apart_m = _WGS84.inv(lon_deg, lat_deg, there_lon_deg, there_lat_deg)
        closer = (steps < other.step) & (apart_m <= NEAR_M)
        beside = (steps == other.step) & (apart_m <= ONE_SPOT * sides_m)
        for k in map(int, np.flatnonzero(closer | beside)):
            one = told[k]
            if one.plate_id == other.plate_id:
                continue
            if beside[k] and (not other.is_told or one.square == other.square):
                continue
            pair = (one.key, other.key)
            if beside[k] and (other.key, one.key) in said:
                continue
            if pair not in said or apart_m[k] < said[pair][0]:
                words = _beside if beside[k] else _closer
                said[pair] = float(apart_m[k]), words(one, other, float(apart_m[k]))
    yield from (words for _, words in said.values())


def _closer(one: _Stood, other: _Stood, apart_m: float) -> str:
    how = f"by a square of {one.precision}" if one.step else "as it is known"
    so = "so closely" if one.step else "so"
    return (
        f"{one.key} is told {how}, and its camera stood {apart_m:.0f} m from that "
        f"of {other.key}, which may not be told {so}. {_REMEDY}"
    )


def _beside(one: _Stood, other: _Stood, apart_m: float) -> str:
    return (
        f"{one.key} and {other.key} stood {apart_m:.0f} m apart and are told by two "
        "squares side by side: whoever takes them for one spot knows that it lies by "
        "the border between. Tell one of them more coarsely, or leave it out."
    )


def _by_earlier_squares(
    session: DaybookSession, told: Sequence[_Stood]
) -> Iterator[str]:
    """Warn of plates that were accepted before with an answer in another square."""
    squares = {
        one.plate_id: one for one in told if one.is_decided and one.square is not None
    }
    wanted = (
        select(Decision.plate_id, Fix.lon_deg, Fix.lat_deg)
        .join(Fix, Fix.id == Decision.fix_id)
        .where(
            Decision.removed.is_(False), Decision.conclusion.startswith("accepted"),
            Decision.plate_id.in_(squares), Fix.lon_deg.is_not(None),
            Fix.lat_deg.is_not(None),
        )
    )  # fmt: skip
    moved = set()
    for plate_id, lon_deg, lat_deg in session.execute(wanted):
        now = squares[plate_id]
        assert lon_deg is not None
        assert lat_deg is not None
        before = coarse_place(lon_deg, lat_deg, now.precision)
        if before is not None and (before.lon_deg, before.lat_deg) != now.square:
            moved.add(now.key)
    for key in sorted(moved):
        yield (
            f"{key} was accepted before with an answer in another square of the same "
            "size: whoever has a copy of both knows that it lies by the border "
            "between. Tell it more coarsely, or leave it out."
        )
