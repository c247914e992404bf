"""Say what would narrow a date most.

Each offer is weighed before anybody looks: every answer that finding out could give is
foretold by what is known, and the months that would be left after each are averaged by
how probable it is. Nothing but sums over months, so the figures are exact.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.dating.interval import narrowest
from wherestood.dating.items import Bound, Item
from wherestood.dating.months import Span
from wherestood.dating.weigh import Weighed, weigh

__all__ = ["Offer", "Standing", "advise_date"]

#: Items trusted this far are not worth settling.
SETTLED = 0.98
#: A date known to so many months is not worth looking up again.
KNOWN_TO_MONTHS = 3
#: At most so many days of a doubtful date are tried, evenly spread.
MOST_TRIED = 40


@dataclass(frozen=True)
class Standing:
    """Be a thing that may or may not show, and since and until when it stood.

    Attributes
    ----------
    name : str
        What it is.
    begun, gone : Span or None
        When it was built, and when it went; None where that is not known.
    """

    name: str
    begun: Span | None
    gone: Span | None


@dataclass(frozen=True)
class Offer:
    """Be something to find out.

    Attributes
    ----------
    what : str
        What to do, in words.
    months_now, months_expected : float
        Length of the 90% interval: now, and expected after [month].
    """

    what: str
    months_now: float
    months_expected: float

    @property
    def gain_months(self) -> float:
        """Return by how much it is expected to shrink."""
        return self.months_now - self.months_expected


def advise_date(
    items: Sequence[Item],
    whole: Weighed,
    standing: Iterable[Standing] = (),
    most: int = 10,
) -> tuple[Offer, ...]:
    """Say what would narrow a date most.

    Parameters
    ----------
    items : sequence of Item
        All that were weighed.
    whole : Weighed
        What they gave.
    standing : iterable of Standing
        Things with known years of which it is not yet said whether they show.
    most : int
        How many offers at most.

    Returns
    -------
    tuple of Offer
        The best first; those that gain less than half a month are left out.
    """
    if not whole.possible:
        return ()
    offers = [
        *_dates_to_find(items, whole),
        *_doubts_to_settle(items, whole),
        *_things_to_look_for(standing, whole),
    ]
    worth = [offer for offer in offers if offer.gain_months >= 0.5]
    return tuple(sorted(worth, key=lambda offer: -offer.gain_months)[:most])


def _length(months: NDArray[np.int64], weights: NDArray[np.float64]) -> float:
    total = weights.sum()
    found = narrowest(months, weights / total, 0.9) if total > 0.0 else None
    return float(found.months) if found is not None else 0.0


def _expected(
    months: NDArray[np.int64], answers: Iterable[NDArray[np.float64]]
) -> float:
    """Average the lengths left by answers, each weighed by its own sum."""
    sums, lengths = [], []
    for weights in answers:
        sums.append(float(weights.sum()))
        lengths.append(_length(months, weights))
    total = sum(sums)
    if total <= 0.0:
        return 0.0
    return float(np.dot(sums, lengths)) / total


def _others(items: Sequence[Item], item: Item, whole: Weighed) -> NDArray[np.float64]:
    """Return the probability without one item (repeats of it left out too)."""
    left = [
        other
        for other in items
        if other.key != item.key and item.key not in other.derived_from
    ]
    return weigh(left, int(whole.months[0]), int(whole.months[-1])).probability


def _dates_to_find(items: Sequence[Item], whole: Weighed) -> Iterator[Offer]:
    """Offer to find when exactly a bound's event was."""
    now = _length(whole.months, whole.probability)
    for item in items:
        if not isinstance(item, Bound) or item.stands_with:
            continue
        first, last = item.when.rise_from, item.when.fall_to
        if first is None or last is None or last - first + 1 <= KNOWN_TO_MONTHS:
            continue
        tried = np.unique(np.linspace(first, last, MOST_TRIED).round().astype(int))
        rest = _others(items, item, whole)
        answers = []
        for month in tried:
            exact = replace(item, when=Span(*(int(month),) * 4))
            answers.append(rest * _likelihood(exact, whole.months))
        yield Offer(
            f"find the exact date of {item.what}",
            now,
            _expected(whole.months, answers),
        )


def _likelihood(item: Item, months: NDArray[np.int64]) -> NDArray[np.float64]:
    return item.trust * item.right(months) + (1.0 - item.trust) * item.wrong(months)


def _doubts_to_settle(items: Sequence[Item], whole: Weighed) -> Iterator[Offer]:
    """Offer to settle whether an item is right."""
    now = _length(whole.months, whole.probability)
    for item in items:
        if item.trust >= SETTLED or item.stands_with:
            continue
        rest = _others(items, item, whole)
        if item.derived_from:
            continue
        right = item.trust * item.right(whole.months) * rest
        wrong = (1.0 - item.trust) * item.wrong(whole.months) * rest
        yield Offer(
            f"settle whether this is right: {item.what}",
            now,
            _expected(whole.months, [right, wrong]),
        )


def _things_to_look_for(
    standing: Iterable[Standing], whole: Weighed
) -> Iterator[Offer]:
    """Offer to look whether a thing shows that stood for part of the time."""
    now = _length(whole.months, whole.probability)
    for thing in standing:
        stood = np.ones(len(whole.months))
        if thing.begun is not None:
            bound = Bound(thing.name, thing.name, "not before", thing.begun)
            stood = stood * bound.agrees(whole.months)
        if thing.gone is not None:
            bound = Bound(thing.name, thing.name, "not after", thing.gone)
            stood = stood * bound.agrees(whole.months)
        answers = [whole.probability * stood, whole.probability * (1.0 - stood)]
        yield Offer(
            f"see whether {thing.name} shows on the plate, or would and does not",
            now,
            _expected(whole.months, answers),
        )
