"""Say which journeys a maker's plates allow, by distance over days.

A plate puts its maker at a place on some day between two. From one to the other takes
at least distance over a day's going, along a way longer than the crow's; if that is
more than the days between the first day of the one and the last day of the other,
either way round, both cannot be so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from wherestood.earth.geodesy import distance_and_bearing
from wherestood.errors import EvidenceError

__all__ = [
    "KM_A_DAY",
    "WAY_OVER_CROW",
    "Journey",
    "Stop",
    "cannot_both_be",
    "fits_trip",
    "in_order",
    "way_km",
]  # fmt: skip

#: A day's going with a field camera, its plates and tent [km]: common practice, wide.
KM_A_DAY = {
    "on foot": 30.0,
    "pack horse": 40.0,
    "cart": 45.0,
    "coach": 110.0,
    "railway": 500.0,
    "sailing ship": 200.0,
    "steamer": 350.0,
}
#: How much longer ways are than the crow's flight: common practice.
WAY_OVER_CROW = 1.3


@dataclass(frozen=True)
class Stop:
    """Be a place and the days on which its plate may have been exposed.

    Attributes
    ----------
    key : str
        The plate's.
    lon_deg, lat_deg : float
        WGS 84 [deg].
    first_day, last_day : int
        Day numbers (`datetime.date.toordinal`).
    """

    key: str
    lon_deg: float
    lat_deg: float
    first_day: int
    last_day: int

    def __post_init__(self) -> None:
        if self.last_day < self.first_day:
            raise EvidenceError(
                f"The days of {self.key!r} end before they begin.",
                "Exchange the two.",
                item=self.key,
            )


@dataclass(frozen=True)
class Journey:
    """Say what going from one stop to another takes, and what time there is.

    Attributes
    ----------
    start, end : str
        The stops' keys.
    km : float
        The way [km].
    days_needed : float
        At the mode's pace.
    days_there : int
        At most, from the first day of the one to the last of the other; below 0 where
        the other lies before.
    """

    start: str
    end: str
    km: float
    days_needed: float
    days_there: int

    @property
    def possible(self) -> bool:
        """Return whether the time suffices; a day has two ends, and one is given."""
        return self.days_there >= 0 and self.days_needed <= self.days_there + 1.0

    @property
    def words(self) -> str:
        """Return it in words."""
        if self.days_there < 0:
            return f"{self.end} lies before {self.start}"
        which = "possible" if self.possible else "not possible"
        return (
            f"{self.start} to {self.end}: {self.km:.0f} km, {self.days_needed:.1f} "
            f"days on the way, {self.days_there} between at most: {which}"
        )


def way_km(one: Stop, other: Stop) -> float:
    """Return the way between two stops [km]."""
    metres, _ = distance_and_bearing(
        one.lon_deg, one.lat_deg, other.lon_deg, other.lat_deg
    )
    return float(metres) / 1000.0 * WAY_OVER_CROW


def _journey(one: Stop, other: Stop, km_a_day: float) -> Journey:
    km = way_km(one, other)
    return Journey(
        one.key, other.key, km, km / km_a_day, other.last_day - one.first_day
    )


def cannot_both_be(
    stops: Sequence[Stop], mode: str = "cart"
) -> tuple[tuple[Journey, Journey], ...]:
    """Return pairs of stops that no one traveller can have made both.

    Parameters
    ----------
    stops : sequence of Stop
    mode : str
        How the maker went, a key of `KM_A_DAY`.

    Returns
    -------
    tuple of (Journey, Journey)
        Of each such pair the journey either way round.

    Notes
    -----
    2000 stops take some 1.5 s of one core.
    """
    pace = _pace(mode)
    lon = np.array([stop.lon_deg for stop in stops])
    lat = np.array([stop.lat_deg for stop in stops])
    first = np.array([stop.first_day for stop in stops])
    last = np.array([stop.last_day for stop in stops])
    found = []
    for index, one in enumerate(stops):
        rest = slice(index + 1, None)
        metres, _ = distance_and_bearing(
            np.full(len(lon[rest]), one.lon_deg), np.full(len(lon[rest]), one.lat_deg),
            lon[rest], lat[rest],
        )  # fmt: skip
        needed = metres / 1000.0 * WAY_OVER_CROW / pace
        there, back = last[rest] - first[index], last[index] - first[rest]
        possible = ((there >= 0) & (needed <= there + 1.0)) | (
            (back >= 0) & (needed <= back + 1.0)
        )
        for other in (np.flatnonzero(~possible) + index + 1).tolist():
            two = one, stops[other]
            found.append((_journey(*two, pace), _journey(*two[::-1], pace)))
    return tuple(found)


def in_order(stops: Sequence[Stop], mode: str = "cart") -> tuple[Journey, ...]:
    """Return the journeys from stop to stop in the order of their middle days.

    Each stop is reached on the earliest day that those before allow; one that cannot
    be reached in time is told as not possible.
    """
    pace = _pace(mode)
    ordered = sorted(stops, key=lambda stop: (stop.first_day + stop.last_day, stop.key))
    journeys = []
    day = ordered[0].first_day if ordered else 0
    for one, other in pairwise(ordered):
        km = way_km(one, other)
        needed = km / pace
        journeys.append(Journey(one.key, other.key, km, needed, other.last_day - day))
        # Half-days are not counted: what is possible must not be ruled out.
        day = max(other.first_day, day + int(needed))
    return tuple(journeys)


def fits_trip(stop: Stop, trip: Sequence[Stop], mode: str = "cart") -> bool:
    """Return whether a plate can have been exposed on a known trip.

    Parameters
    ----------
    stop : Stop
        The plate; a wide span of days where little is known.
    trip : sequence of Stop
        Known stops, in order of their days; at least one.
    mode : str
        How the maker went.

    Returns
    -------
    bool
        Whether some day of the trip lets the maker reach it from the stop before and
        the stop after from it.

    Raises
    ------
    EvidenceError
        If the trip has no stop, or the mode is not known.
    """
    pace = _pace(mode)
    if not trip:
        raise EvidenceError("The trip has no stop.", "Give at least one.")
    first, last = trip[0].first_day, trip[-1].last_day
    for day in range(max(first, stop.first_day), min(last, stop.last_day) + 1):
        here = Stop(stop.key, stop.lon_deg, stop.lat_deg, day, day)
        before = [known for known in trip if known.first_day <= day]
        after = [known for known in trip if known.last_day >= day]
        reached = all(_journey(known, here, pace).possible for known in before[-1:])
        goes_on = all(_journey(here, known, pace).possible for known in after[:1])
        if reached and goes_on:
            return True
    return False


def _pace(mode: str) -> float:
    if mode not in KM_A_DAY:
        raise EvidenceError(
            f"No pace is known of {mode!r}.", f"Choose one of: {', '.join(KM_A_DAY)}."
        )
    return KM_A_DAY[mode]
