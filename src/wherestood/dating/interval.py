"""Find the narrowest run of months that holds a share of the probability."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.dating.months import month_words

__all__ = ["Interval", "narrowest"]

#: Sums of probabilities are equal to a share within rounding [no unit].
ROUNDING = 1e-9


@dataclass(frozen=True)
class Interval:
    """Be a run of months and the probability in it.

    Attributes
    ----------
    first, last : int
        Its months, both within.
    probability : float
        What it holds: at least what was asked, a month more than needed at most.
    """

    first: int
    last: int
    probability: float

    @property
    def months(self) -> int:
        """Return how many months it has."""
        return self.last - self.first + 1

    @property
    def words(self) -> str:
        """Return it in words.

        Examples
        --------
        >>> Interval(12 * 1871, 12 * 1872 + 2, 0.9).words
        'January 1871 to March 1872'
        """
        if self.first == self.last:
            return month_words(self.first)
        return f"{month_words(self.first)} to {month_words(self.last)}"


def narrowest(
    months: NDArray[np.int64], probability: NDArray[np.float64], share: float
) -> Interval | None:
    """Find the narrowest run of months that holds a share.

    Parameters
    ----------
    months : NDArray[np.int64]
        (months,), one after another.
    probability : NDArray[np.float64]
        (months,), adding up to 1, or all 0.
    share : float
        Of the probability, above 0 and at most 1.

    Returns
    -------
    Interval or None
        Of several as narrow the one that holds most, the earliest of those; None
        where no month has any probability.
    """
    if not probability.any():
        return None
    before = np.concatenate([[0.0], np.cumsum(probability)])
    ends = np.searchsorted(before, before[:-1] + share - ROUNDING)
    fits = ends < len(before)
    starts = np.flatnonzero(fits)
    if not starts.size:  # rounding left the whole a trifle short of the share
        starts, ends = np.array([0]), np.array([len(probability)])
    lengths = ends[starts] - starts
    held = before[ends[starts]] - before[starts]
    best = np.lexsort((starts, -np.round(held, 12), lengths))[0]
    first = int(starts[best])
    last = int(ends[starts[best]]) - 1
    return Interval(int(months[first]), int(months[last]), float(held[best]))
