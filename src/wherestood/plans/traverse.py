"""Draw a deed's calls from a corner, and say how well they close.

Solves for the corners of a traverse from its bearings and distances, the corner it
begins at, and where it ends if that is known, by least squares. One answer.

Symbols
-------
d  (2,) one leg, east and north [m]
C  covariance of all corners together, as the legs alone leave them [m^2]
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import PlanError
from wherestood.plans.deed import Call

__all__ = ["LegErrors", "Suspect", "Traverse", "draw_traverse"]

Floats = NDArray[np.float64]

#: A misclosure of more than this many standard errors asks for a misread call.
_TOO_FAR = 3.0
#: ... and a call explains it if it leaves less than this.
_EXPLAINED = 2.5


@dataclass(frozen=True)
class LegErrors:
    """Say how far off bearings and distances may be.

    Attributes
    ----------
    bearing_sd_deg : float
        Of each leg's bearing: a quarter of a degree by compass, common practice [deg].
    length_share : float
        Of each length, of itself: 1 in 500 by chain, common practice, no unit.
    north_sd_deg : float
        Of the north that all bearings share [deg].
    scale_share : float
        Of the chain that all lengths share, no unit.
    """

    bearing_sd_deg: float = 0.25
    length_share: float = 0.002
    north_sd_deg: float = 0.0
    scale_share: float = 0.0


@dataclass(frozen=True)
class Suspect:
    """Be a call that would explain the misclosure if it alone were misread.

    Attributes
    ----------
    call : int
        Its number, from 0.
    bearing_deg : float or None
        What its bearing would have to be, from the deed's north [deg].
    length_m : float or None
        What its length would have to be [m].
    """

    call: int
    bearing_deg: float | None
    length_m: float | None


@dataclass(frozen=True)
class Traverse:
    """Be the corners that a deed's calls lead to.

    Attributes
    ----------
    corners_m : (calls + 1, 2) float64 array
        East and north, closed as well as it goes [m].
    covariance_m2 : (2 corners, 2 corners) float64 array
        Of all corners, east and north of each side by side [m^2].
    misclosure_m : (2,) float64 array or None
        Where the calls lead to less where they should end; None for an open one [m].
    misclosure_sd_m : float or None
        Standard error to expect of it, along one axis [m].
    length_m : float
        Of all calls together [m].
    suspects : tuple of Suspect
        Calls that explain a misclosure that is too large.
    """

    corners_m: Floats
    covariance_m2: Floats
    misclosure_m: Floats | None
    misclosure_sd_m: float | None
    length_m: float
    suspects: tuple[Suspect, ...]

    @property
    def linear_misclosure_m(self) -> float | None:
        """Return how far apart the ends are [m]."""
        if self.misclosure_m is None:
            return None
        return float(np.hypot(*self.misclosure_m))

    @property
    def one_in(self) -> float | None:
        """Return length over misclosure: 1 in so many; infinite if it closes."""
        apart = self.linear_misclosure_m
        if apart is None:
            return None
        return self.length_m / apart if apart > 0.0 else float("inf")

    @property
    def area_m2(self) -> float:
        """Return the area that the corners enclose [m^2]."""
        east, north = (self.corners_m - self.corners_m[0]).T
        return float(
            abs(np.sum(east * np.roll(north, -1) - np.roll(east, -1) * north)) / 2.0
        )


def draw_traverse(
    calls: Sequence[Call],
    start_m: Sequence[float] = (0.0, 0.0),
    *,
    end_m: Sequence[float] | None = None,
    closes: bool = False,
    north_deg: float = 0.0,
    start_sd_m: float = 0.0,
    end_sd_m: float = 0.0,
    errors: LegErrors | None = None,
) -> Traverse:
    """Draw calls from a corner.

    Parameters
    ----------
    calls : sequence of Call
        Bearings and distances.
    start_m : (east, north)
        The corner it begins at [m].
    end_m : (east, north), optional
        A known corner that it ends at [m].
    closes : bool
        Whether it ends where it began.
    north_deg : float
        Grid bearing of the deed's north: the magnetic declination of its year less
        the grid's convergence, for a compass [deg].
    start_sd_m, end_sd_m : float
        Standard errors of these corners, along each axis [m].
    errors : LegErrors, optional
        How far off the calls may be; as by compass and chain unless told.

    Raises
    ------
    PlanError
        If there are no calls, or it both closes and ends elsewhere.
    """
    if not calls:
        raise PlanError("The traverse has no calls.", "Give a bearing and distance.")
    if closes and end_m is not None:
        raise PlanError(
            "The traverse cannot both close and end at another corner.",
            "Choose one of the two.",
        )
    doubt = errors or LegErrors()
    bearing = np.radians([call.bearing_deg + north_deg for call in calls])
    length = np.array([call.length_m for call in calls])
    legs = length[:, None] * np.column_stack([np.sin(bearing), np.cos(bearing)])
    start = np.asarray(start_m, dtype=np.float64)
    corners = start + np.vstack([np.zeros(2), np.cumsum(legs, axis=0)])
    C = _covariance(legs, doubt, start_sd_m)
    total = float(length.sum())
    if not closes and end_m is None:
        return Traverse(corners, C, None, None, total, ())
    # What closes comes back to its own corner, wherever that is.
    sum_of = np.zeros((2, C.shape[0]))
    sum_of[:, -2:] = np.eye(2)
    if closes:
        sum_of[:, :2] = -np.eye(2)
        wanted = np.zeros(2)
    else:
        wanted = np.asarray(end_m, dtype=np.float64)
    miss = sum_of @ corners.ravel() - wanted
    spread = sum_of @ C @ sum_of.T + (0.0 if closes else end_sd_m**2) * np.eye(2)
    gain = np.linalg.solve(spread, sum_of @ C).T
    closed = corners.ravel() - gain @ miss
    return Traverse(
        closed.reshape(-1, 2),
        C - gain @ sum_of @ C,
        miss,
        float(np.sqrt(np.trace(spread) / 2.0)),
        total,
        _suspects(calls, legs, miss, spread, north_deg),
    )


def _covariance(legs: Floats, doubt: LegErrors, start_sd_m: float) -> Floats:
    """Return the covariance of all corners, legs adding up from the first."""
    count = len(legs)
    across = np.column_stack([legs[:, 1], -legs[:, 0]])
    turn, share = np.radians(doubt.bearing_sd_deg), doubt.length_share
    # A leg's error: along it by its length, across it by its bearing.
    each = np.zeros((2 * count, 2 * count))
    for i, (d, n) in enumerate(zip(legs, across, strict=True)):
        at = slice(2 * i, 2 * i + 2)
        each[at, at] = np.outer(d, d) * share**2 + np.outer(n, n) * turn**2
    shared_turn = across.ravel() * np.radians(doubt.north_sd_deg)
    shared_scale = legs.ravel() * doubt.scale_share
    each += np.outer(shared_turn, shared_turn) + np.outer(shared_scale, shared_scale)
    adds = np.kron(np.tril(np.ones((count + 1, count)), -1), np.eye(2))
    everywhere = np.kron(np.ones((count + 1, 1)), np.eye(2)) * start_sd_m
    return np.asarray(adds @ each @ adds.T + everywhere @ everywhere.T)


def _suspects(
    calls: Sequence[Call],
    legs: Floats,
    miss: Floats,
    spread: Floats,
    north_deg: float,
) -> tuple[Suspect, ...]:
    """Return the calls that, misread in bearing or length alone, explain the miss."""
    if float(miss @ np.linalg.solve(spread, miss)) < _TOO_FAR**2:
        return ()
    sd = float(np.sqrt(np.trace(spread) / 2.0))
    found: list[tuple[float, Suspect]] = []
    for i, (call, leg) in enumerate(zip(calls, legs, strict=True)):
        needed = leg - miss
        length = float(np.hypot(*needed))
        bearing = float(np.degrees(np.arctan2(*needed)) - north_deg) % 360.0
        turned = (bearing - call.bearing_deg + 180.0) % 360.0 - 180.0
        off_length = abs(length - call.length_m) / sd
        off_bearing = abs(np.radians(turned)) * length / sd
        if off_length < _EXPLAINED:
            found.append((off_length, Suspect(i, bearing, None)))
        if off_bearing < _EXPLAINED:
            found.append((float(off_bearing), Suspect(i, None, length)))
    return tuple(one for _, one in sorted(found, key=lambda pair: pair[0]))
