"""Bound a date by where the maker is known to have been.

Somebody who was so many days' going away on one day was not here on that day, nor on
the days before and after that the way takes. A date such as ``1871-06`` says that the
maker was there on some day of it, a span ``1871/1873`` that the maker stayed there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.dating.items import Item
from wherestood.dating.itinerary import KM_A_DAY, Stop, way_km
from wherestood.errors import EvidenceError

__all__ = ["Elsewhere", "elsewhere"]

#: `datetime.date.toordinal` of 1 January 1970, from which numpy counts days.
EPOCH_ORDINAL = 719_163
EPOCH_MONTH = 12 * 1970


@dataclass(frozen=True)
class Elsewhere(Item):
    """Say on which days the maker cannot have been where the plate was exposed.

    A month agrees by the share of its days that are left. If the word of the maker's
    whereabouts is wrong, it says nothing.

    Attributes
    ----------
    first_day, last_day : int
        The days that are ruled out (`datetime.date.toordinal`); none where the last
        lies before the first.
    """

    first_day: int
    last_day: int

    def agrees(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return the share of each month's days that are left: (months,) array."""
        begin, end = (
            (np.asarray(months) + step - EPOCH_MONTH)
            .astype("datetime64[M]")
            .astype("datetime64[D]")
            .astype(np.int64)
            + EPOCH_ORDINAL
            for step in (0, 1)
        )
        ruled = np.minimum(end, self.last_day + 1) - np.maximum(begin, self.first_day)
        return np.asarray(1.0 - np.clip(ruled, 0, None) / (end - begin))

    def wrong(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return 1 for every month: (months,) array."""
        return np.ones(len(months))


def elsewhere(
    key: str,
    what: str,
    here: Stop,
    there: Stop,
    *,
    stayed: bool,
    mode: str = "cart",
    trust: float = 0.9,
    source: str = "",
) -> Elsewhere | None:
    """Make an item of where the maker was; None where it rules no day out.

    Parameters
    ----------
    key, what : str
        What it is called by, and what it says.
    here : Stop
        Where the plate was exposed; its days count nothing.
    there : Stop
        Where the maker was, and between which days.
    stayed : bool
        Whether the maker was there on all of them, or on some one.
    mode : str
        How the maker went, a key of `KM_A_DAY`.
    trust : float
        How probable it is right.
    source : str
        Who says so.

    Raises
    ------
    EvidenceError
        If no pace is known of the mode.

    Notes
    -----
    A way of n days can be made between days n - 1 apart, as in
    `wherestood.dating.itinerary`: a day has two ends.
    """
    if mode not in KM_A_DAY:
        raise EvidenceError(
            f"No pace is known of {mode!r}.", f"Choose one of: {', '.join(KM_A_DAY)}."
        )
    needed = way_km(here, there) / KM_A_DAY[mode]
    # So many days off, and fewer, the way is too long.
    near = math.ceil(needed) - 2
    if near < 0:
        return None
    first, last = there.first_day - near, there.last_day + near
    if not stayed:  # it may have been the other end of these days
        first, last = there.last_day - near, there.first_day + near
    if last < first:
        return None
    return Elsewhere(key, what, first, last, trust=trust, source=source)
