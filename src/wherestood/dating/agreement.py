"""Tell what each item contributes to a date, and which cannot be so together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from wherestood.dating.interval import Interval
from wherestood.dating.items import Item
from wherestood.dating.weigh import Group, Weighed, weigh

__all__ = ["Contribution", "contributions", "what_conflicts"]

#: An item less probably right than this, with all others, disagrees with them.
DISAGREES_BELOW = 0.5
#: Share of all months that two items leave together, of what either leaves, below
#: which they contradict one another.
TOGETHER_AT_LEAST = 0.05
#: Sets of more items than this are not tried for a contradiction.
MOST_IN_CONFLICT = 4


@dataclass(frozen=True)
class Contribution:
    """Hold what one group of items does to the date.

    Attributes
    ----------
    group : Group
        Items that stand or fall together; mostly one.
    without : Interval or None
        Where nine tenths would lie without it; None where nothing fits even so.
    moves_months : float or None
        How far the middle would move without it [month], later positive.
    right : float or None
        How probable it is right, given all; None where nothing fits all.
    at_odds_with : tuple of str
        Names of groups that it contradicts.
    """

    group: Group
    without: Interval | None
    moves_months: float | None
    right: float | None
    at_odds_with: tuple[str, ...]

    @property
    def disagrees(self) -> bool:
        """Return whether it is more probably wrong than right, though trusted."""
        return self.right is not None and (
            self.right < DISAGREES_BELOW <= self.group.trust
        )


def contributions(items: Sequence[Item], whole: Weighed) -> tuple[Contribution, ...]:
    """Tell of each group of items how the date would be without it.

    Parameters
    ----------
    items : sequence of Item
        All that were weighed.
    whole : Weighed
        What they gave together.

    Returns
    -------
    tuple of Contribution
        In the order of the groups.
    """
    return tuple(_contribution(group, items, whole) for group in whole.groups)


def _contribution(group: Group, items: Sequence[Item], whole: Weighed) -> Contribution:
    first, last = int(whole.months[0]), int(whole.months[-1])
    dropped = {item.key for item in group.items}
    # A repeat of what is dropped goes with it: it would say the same again.
    others = [
        item
        for item in items
        if item.key not in dropped and not dropped & set(item.derived_from)
    ]
    left = weigh(others, first, last)
    moves = None
    if left.possible and whole.possible:
        moves = _middle(left) - _middle(whole)
    return Contribution(
        group, left.interval(0.9), moves, _right(group, left), _at_odds(group, whole)
    )


def _middle(weighed: Weighed) -> float:
    """Return the month before and after which half the probability lies."""
    held = np.cumsum(weighed.probability)
    return float(weighed.months[np.searchsorted(held, 0.5 - 1e-9)])


def _right(group: Group, others: Weighed) -> float | None:
    """Return how probable a group is right, weighed with all others."""
    months, rest = others.months, others.probability
    right = group.trust * float(group.right(months) @ rest)
    wrong = (1.0 - group.trust) * float(group.wrong(months) @ rest)
    return right / (right + wrong) if right + wrong > 0.0 else None


def _at_odds(group: Group, whole: Weighed) -> tuple[str, ...]:
    """Return the groups that leave next to no month which this one leaves too."""
    mine = group.right(whole.months)
    found = []
    for other in whole.groups:
        theirs = other.right(whole.months)
        if other is group or not mine.any() or not theirs.any():
            continue
        together = float(np.minimum(mine / mine.max(), theirs / theirs.max()).max())
        if together < TOGETHER_AT_LEAST:
            found.append(other.name)
    return tuple(found)


def what_conflicts(whole: Weighed) -> tuple[Group, ...]:
    """Find the fewest groups, held for certain, that leave no month together.

    Returns
    -------
    tuple of Group
        Of several such sets the first; empty where some month is possible, or where
        it takes more than `MOST_IN_CONFLICT` of them.
    """
    if whole.possible:
        return ()
    leaves = [group.likelihood(whole.months) for group in whole.groups]
    for size in range(1, MOST_IN_CONFLICT + 1):
        for some in combinations(range(len(leaves)), size):
            if not np.prod([leaves[index] for index in some], axis=0).any():
                return tuple(whole.groups[index] for index in some)
    return ()
