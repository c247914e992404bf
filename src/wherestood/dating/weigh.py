"""Weigh what dates a plate into a probability over months.

Solves for the month of exposure, every month of a range alike before anything is
known. Items are independent, but for those that stand or fall together, and those that
repeat others:

    p(t) ~ product over groups of [ w prod right(t) + (1 - w) prod wrong(t) ]

    t      month
    w      trust of the group, the least of its items'
    right  `Item.right`, wrong `Item.wrong`
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.dating.interval import Interval, narrowest
from wherestood.dating.items import Item
from wherestood.dating.months import month_of, months_between, span_of
from wherestood.errors import EvidenceError

__all__ = [
    "FIRST_MONTH", "LAST_MONTH", "Group", "Weighed", "groups_of", "months_considered",
    "weigh",
]  # fmt: skip

#: Photographs were first announced in 1839, and glass plates stayed on sale until the
#: early 1950s: common practice.
FIRST_MONTH, LAST_MONTH = month_of(1839, 1), month_of(1955, 12)


def months_considered(between: str | None) -> tuple[int, int]:
    """Return the first and the last month that a plate may be of.

    Parameters
    ----------
    between : str or None
        A span of time, EDTF; an end that is open, and None, leave it at that of all
        plates.

    Raises
    ------
    EvidenceError
        If it is no date, or no month lies between.
    """
    if between is None:
        return FIRST_MONTH, LAST_MONTH
    span = span_of(between, "the months considered")
    first = FIRST_MONTH if span.rise_from is None else span.rise_from
    last = LAST_MONTH if span.fall_to is None else span.fall_to
    if first > last:
        raise EvidenceError(
            f"No month of plates lies within {between!r}.",
            "Write the first and the last year that is possible, as in 1860/1900.",
            field="between",
        )
    return first, last


@dataclass(frozen=True)
class Group:
    """Be items that are right or wrong together.

    Attributes
    ----------
    items : tuple of Item
        At least one.
    """

    items: tuple[Item, ...]

    @property
    def name(self) -> str:
        """Return its keys, joined."""
        return " + ".join(item.key for item in self.items)

    @property
    def trust(self) -> float:
        """Return how probable it is right: no more than any of its items."""
        return min(item.trust for item in self.items)

    def right(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return how probable what it says is, all right: (months,) array."""
        return np.asarray(np.prod([item.right(months) for item in self.items], axis=0))

    def wrong(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return how probable what it says is, all wrong: (months,) array."""
        return np.asarray(np.prod([item.wrong(months) for item in self.items], axis=0))

    def likelihood(self, months: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return how probable what it says is: (months,) array, no unit."""
        trust = self.trust
        return trust * self.right(months) + (1.0 - trust) * self.wrong(months)


@dataclass(frozen=True)
class Weighed:
    """Hold the probability of every month.

    Attributes
    ----------
    months : NDArray[np.int64]
        (months,), every month of the range.
    probability : NDArray[np.float64]
        (months,), adding up to 1; all 0 where nothing fits all items.
    groups : tuple of Group
        What counted.
    repeats : tuple of str
        Keys of items that count nothing, since what they repeat counts.
    """

    months: NDArray[np.int64]
    probability: NDArray[np.float64]
    groups: tuple[Group, ...]
    repeats: tuple[str, ...]

    @property
    def possible(self) -> bool:
        """Return whether any month fits all that is held for certain."""
        return bool(self.probability.any())

    def interval(self, share: float) -> Interval | None:
        """Return the narrowest run of months that holds a share; None without any."""
        return narrowest(self.months, self.probability, share)


def groups_of(items: Sequence[Item]) -> tuple[tuple[Group, ...], tuple[str, ...]]:
    """Join items that stand together, and leave out those that repeat others.

    Returns
    -------
    (tuple of Group, tuple of str)
        In the order of their first items; keys of those left out.
    """
    keys = [item.key for item in items]
    if len(set(keys)) < len(keys):
        twice = next(key for key in keys if keys.count(key) > 1)
        raise EvidenceError(
            f"Two items are called {twice!r}.", "Give each a name of its own."
        )
    counted: list[Item] = []
    repeats: list[str] = []
    for item in _first_what_is_repeated(items):
        if set(item.derived_from) & {other.key for other in counted}:
            repeats.append(item.key)
        else:
            counted.append(item)
    counted.sort(key=lambda item: keys.index(item.key))
    joined: dict[str, list[Item]] = {}
    for item in counted:
        joined.setdefault(item.stands_with or f"\0{item.key}", []).append(item)
    return tuple(Group(tuple(group)) for group in joined.values()), tuple(repeats)


def _first_what_is_repeated(items: Sequence[Item]) -> list[Item]:
    """Order items so that each comes after those it repeats, as far as can be."""
    waiting = list(items)
    ordered: list[Item] = []
    while waiting:
        names = {item.key for item in waiting}
        free = [item for item in waiting if not set(item.derived_from) & names]
        free = free or waiting[:1]  # they repeat one another in a ring
        ordered += free
        waiting = [item for item in waiting if item not in free]
    return ordered


def weigh(
    items: Sequence[Item], first: int = FIRST_MONTH, last: int = LAST_MONTH
) -> Weighed:
    """Weigh items into a probability over months.

    Parameters
    ----------
    items : sequence of Item
        What dates the plate; none leaves every month alike.
    first, last : int
        The range of months considered.

    Returns
    -------
    Weighed
        Nothing possible, rather than an error, where what is held for certain
        contradicts itself.

    Raises
    ------
    EvidenceError
        If the range is empty, or two items share a key.
    """
    if last < first:
        raise EvidenceError(
            "The first month considered lies after the last.", "Exchange the two."
        )
    groups, repeats = groups_of(items)
    months = months_between(first, last)
    probability = np.ones(len(months))
    for group in groups:
        probability = probability * group.likelihood(months)
        most = probability.max()
        probability = probability / most if most > 0.0 else probability
    total = probability.sum()
    if total > 0.0:
        probability = probability / total
    return Weighed(months, probability, groups, repeats)
