"""Define the items that date a plate, each with what it says of every month.

An item is right or wrong. ``right`` and ``wrong`` are how probable what it says would
be, month by month, in the one case and the other; `wherestood.dating.weigh` mixes them
by the item's trust. A bound that is right as often as its trust says, whichever side
the truth lies on, has ``wrong = 1 - right``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wherestood.dating.months import MONTHS_A_YEAR, Span, months_between
from wherestood.errors import EvidenceError

__all__ = [
    "BesidePlate", "Bound", "Exposed", "InUse", "Item", "Season", "Side", "SunSeason",
]  # fmt: skip

Side = Literal["not before", "not after"]


@dataclass(frozen=True)
class Item:
    """Be what all items share.

    Attributes
    ----------
    key : str
        What the item is called by.
    what : str
        What it says, in words.
    trust : float
        How probable it is right, 0 to 1; 1 is hard.
    source : str
        Who says so.
    stands_with : str
        Name of what it stands or falls with; empty where alone.
    derived_from : tuple of str
        Keys of the items it repeats; where one of them counts, this one does not.
    """

    key: str
    what: str
    trust: float = field(default=1.0, kw_only=True)
    source: str = field(default="", kw_only=True)
    stands_with: str = field(default="", kw_only=True)
    derived_from: tuple[str, ...] = field(default=(), kw_only=True)

    def __post_init__(self) -> None:
        if not 0.0 <= self.trust <= 1.0:
            raise EvidenceError(
                f"The trust of {self.key!r} is {self.trust:g}; it must lie between 0 "
                "and 1.",
                "Write how probable it is right: 0.9 is nine times in ten.",
                item=self.key,
                field="trust",
            )

    def agrees(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return how far it agrees with each month: (months,) array, 0 to 1."""
        raise NotImplementedError

    def right(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return how probable what it says is if it is right: (months,) array."""
        return self.agrees(months)

    def wrong(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return how probable what it says is if it is wrong: (months,) array."""
        return 1.0 - self.agrees(months)


@dataclass(frozen=True)
class Bound(Item):
    """Say that the plate was exposed not before, or not after, some date.

    The date itself may be doubtful: anywhere within its span, as that agrees.

    Attributes
    ----------
    side : Side
        On which side of the date the exposure lies.
    when : Span
        The date.
    """

    side: Side
    when: Span

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.when.rise_from is None and self.when.fall_to is None:
            raise EvidenceError(
                f"The bound {self.key!r} has no date.",
                "Give the date that the plate cannot lie before, or after.",
                item=self.key,
                field="date",
            )

    def agrees(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return the probability that its date leaves each month."""
        first, last = self.when.rise_from, self.when.fall_to
        open_end = None if self.side == "not before" else first
        if first is None or last is None:
            # An open beginning leaves every month; an open end is known from it on.
            end = first if self.side == "not before" else last
            if end is None:
                return np.ones(len(months))
            leaves = months >= end if open_end is None else months <= end
            return np.asarray(leaves, dtype=np.float64)
        dated = self.when.agrees(months_between(first, last))
        if self.side == "not after":
            dated = dated[::-1]
        held = np.concatenate([[0.0], np.cumsum(dated) / dated.sum()])
        passed = months - first if self.side == "not before" else last - months
        return np.asarray(held[np.clip(passed + 1, 0, len(dated))])


@dataclass(frozen=True)
class _Within(Item):
    """Say that the exposure lies within a span.

    Its weight lies inside the span, evenly, the rest outside, evenly: so that a wide
    span and a narrow one of the same trust mean the same.

    Attributes
    ----------
    when : Span
        The span.
    """

    when: Span

    def agrees(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return how far each month lies inside."""
        return self.when.agrees(months)

    def right(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return the density inside: (months,) array, a month."""
        return _density(self.agrees(months))

    def wrong(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return the density outside: (months,) array, a month."""
        outside = 1.0 - self.agrees(months)
        return _density(outside if outside.any() else np.ones(len(months)))


def _density(weights: NDArray[np.float64]) -> NDArray[np.float64]:
    total = weights.sum()
    return np.asarray(weights / total if total > 0.0 else weights)


@dataclass(frozen=True)
class InUse(_Within):
    """Say that the plate was exposed while something was in use: a process, a firm.

    The ends of its span are soft where use began and ended slowly.
    """


@dataclass(frozen=True)
class Exposed(_Within):
    """Say that the plate was exposed at some date.

    Attributes
    ----------
    shares : tuple of float or None
        January to December: how far each goes with the season that the date names;
        None where it names none.
    """

    shares: tuple[float, ...] | None = None

    def agrees(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return how far each month lies inside span and season."""
        inside = super().agrees(months)
        if self.shares is None:
            return inside
        return np.asarray(inside * np.asarray(self.shares)[months % MONTHS_A_YEAR])


@dataclass(frozen=True)
class Season(Item):
    """Say what the picture itself shows of the season: leaf, snow, stooks.

    Attributes
    ----------
    shares : tuple of float
        January to December: in what share of such months the sign is seen.
    """

    shares: tuple[float, ...]

    def __post_init__(self) -> None:
        super().__post_init__()
        fits = len(self.shares) == MONTHS_A_YEAR and all(
            0.0 <= share <= 1.0 for share in self.shares
        )
        if not fits or not any(self.shares):
            raise EvidenceError(
                f"The sign {self.key!r} does not have twelve shares between 0 and 1, "
                "one above 0.",
                "Give one for each month, January first.",
                item=self.key,
                field="shares",
            )

    def agrees(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return in what share of such months the sign is seen."""
        return np.asarray(self.shares)[months % MONTHS_A_YEAR]


@dataclass(frozen=True)
class SunSeason(Season):
    """Say in which months the sun stands as a plate's shadows show, whatever the year.

    Its trust is spread over the months by their shares, the rest evenly over all: as of
    a date, a narrow season and a wide one of equal trust are believed alike.
    """

    def right(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return the months' shares over their mean: (months,) array."""
        return self.agrees(months) / float(np.mean(self.shares))

    def wrong(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return 1 for every month: shadows misread say nothing."""
        return np.ones(len(months))


@dataclass(frozen=True)
class BesidePlate(Item):
    """Say that the plate is older, or younger, than others of which much is known.

    Attributes
    ----------
    first : int
        The month of the first share.
    shares : tuple of float
        Month by month, how far the other plates' own dates agree with it, 0 to 1.
    """

    first: int
    shares: tuple[float, ...]

    def agrees(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return how far the other plates agree with each month of their range."""
        return np.asarray(self.shares)[months - self.first]
