"""Decide whether a scan is left for right, from its process and the hills."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from wherestood.camera.priors import Process, reversed_probability
from wherestood.errors import EvidenceError

__all__ = ["READINGS", "Reversal", "decide_reversal"]

#: How many times likelier what is seen is on a scan the right way round: writing
#: decides; the others are common practice.
READINGS = {
    "writing reads": 1000.0,
    "writing is mirrored": 1 / 1000.0,
    "clock reads": 30.0,
    "clock is mirrored": 1 / 30.0,
    "coats button as usual": 4.0,
    "coats button the other way": 1 / 4.0,
}

DECIDED, ROUNDING = 0.95, 1e-9


@dataclass(frozen=True)
class Reversal:
    """Hold how probable it is that a scan is left for right.

    Attributes
    ----------
    by_process, by_all : float
        From the process alone; with hills and what reads in the picture.
    """

    by_process: float
    by_all: float

    @property
    def verdict(self) -> Literal["right way round", "reversed", "not decided"]:
        """Return what that amounts to: decided from 19 in 20."""
        if self.by_all >= DECIDED - ROUNDING:
            return "reversed"
        decided = self.by_all <= 1.0 - DECIDED + ROUNDING
        return "right way round" if decided else "not decided"


def decide_reversal(
    process: Process | None,
    hills_log_odds: float = 0.0,
    readings: Iterable[str] = (),
) -> Reversal:
    """Decide whether a scan is left for right.

    Parameters
    ----------
    process : {"glass negative", "direct positive", "print"} or None
        What was scanned.
    hills_log_odds : float
        Natural logarithm of how many times better the mirrored skyline fits the ground
        than the skyline as it is, the process not counted in.
    readings : iterable of str
        What else tells, names of `READINGS`.

    Raises
    ------
    EvidenceError
        If a reading is not known.
    """
    before = reversed_probability(process)
    log_odds = math.log(before / (1.0 - before)) + hills_log_odds
    for name in readings:
        if name not in READINGS:
            raise EvidenceError(
                f"Nothing is known of {name!r}.", f"Known: {', '.join(READINGS)}."
            )
        log_odds -= math.log(READINGS[name])
    return Reversal(before, 1.0 / (1.0 + math.exp(-min(max(log_odds, -700), 700))))
