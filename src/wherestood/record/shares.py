"""Divide a fix into parts that add up to the whole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wherestood.fix.result import Fix
from wherestood.record.sureness import asked

__all__ = ["Share", "percents", "shares", "shares_lines"]

CLOSE_BY = 2.0  # times the distance asked


@dataclass(frozen=True)
class Share:
    """Hold one part of the probability and what it is."""

    words: str
    probability: float


def shares(fix: Fix) -> tuple[Share, ...]:
    """Return the parts of the probability, which add up to 1.

    Probabilities of places hold inside the ground searched; here they make room
    for elsewhere.
    """
    places = [fix.near_enough_share, *(a.probability for a in fix.alternatives)]
    inside = 1.0 - fix.elsewhere
    whole = max(1.0, sum(places))  # places never hold more than all
    held = [place / whole for place in places]
    left = max(0.0, 1.0 - sum(held))
    close = min(left, max(0.0, _near_any(fix, CLOSE_BY) - sum(held)))
    near = asked(fix)
    parts = [
        Share(f"within {near} of place {number}", inside * share)
        for number, share in enumerate(held, start=1)
    ]
    close_by = f"{CLOSE_BY * fix.near_enough_m:g} m"
    parts += [
        Share(f"close by: not so near, but within {close_by}", inside * close),
        Share("the rest of the ground searched", inside * (left - close)),
        Share("outside the ground searched, or a match by chance", fix.elsewhere),
    ]
    return tuple(parts)


def percents(parts: tuple[Share, ...]) -> list[int]:
    """Return whole percents that add up to 100, the largest remainders up."""
    exact = 100.0 * np.array([part.probability for part in parts])
    floors = np.floor(exact + 1e-9).astype(int)
    short = 100 - int(floors.sum())
    for index in np.argsort(floors - exact, kind="stable")[:short]:
        floors[index] += 1
    return [int(value) for value in floors]


def shares_lines(fix: Fix) -> tuple[str, ...]:
    """Return a line a part, likeliest places first, adding up to 100%."""
    parts = shares(fix)
    return tuple(
        f"{f'{percent}%' if percent else 'under 1%'} {part.words}"
        for percent, part in zip(percents(parts), parts, strict=True)
    )


def _near_any(fix: Fix, times: float) -> float:
    """Return the probability, inside the ground, of being near some place."""
    if fix.cells.size == 0:
        return 0.0
    stations = [fix.station, *(a.station for a in fix.alternatives)]
    apart_m = np.min(
        [
            np.hypot(fix.cells[:, 0] - s.east_m, fix.cells[:, 1] - s.north_m)
            for s in stations
        ],
        axis=0,
    )
    return float(fix.cells[apart_m <= times * fix.near_enough_m, 3].sum())
