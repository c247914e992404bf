"""Weigh a reading that is now and then a blunder.

Symbols: e probability of a blunder; U the span over which a blunder may fall.

A measured value has the density ``(1 - e) N + e / U``, which integrates to 1: far off
it costs ln(e / U) and no more, so that one blunder cannot move a fix. A yes-or-no has
the probability ``(1 - e) P + e / 2``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

__all__ = ["Weighed", "turned", "weigh_answer", "weigh_value", "wrapped_normal"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Weighed:
    """Hold how well stations explain an item.

    Attributes
    ----------
    log_likelihood : (stations,) float64 array
        Log density of what was read, or log probability of a yes-or-no.
    blunder_log_odds : (stations,) float64 array
        Log odds that the item is a blunder, were the camera at that station.
    """

    log_likelihood: Array
    blunder_log_odds: Array

    @property
    def blunder(self) -> Array:
        """Return the probability of a blunder at each station."""
        return np.asarray(expit(self.blunder_log_odds))


def weigh_value(density: Array, trust: float, span: float) -> Weighed:
    """Weigh a measured value.

    Parameters
    ----------
    density : (stations,) float64 array
        Density of the value were it no blunder, over the unit of ``span``.
    trust : float
        Probability that it is none.
    span : float
        The range over which a blunder may fall.
    """
    return _weigh(density, trust, 1.0 / span)


def weigh_answer(probability: Array, trust: float) -> Weighed:
    """Weigh a yes-or-no; a blunder is as likely one as the other."""
    return _weigh(probability, trust, 0.5)


def _weigh(chance: Array, trust: float, of_blunder: float) -> Weighed:
    good = trust * chance
    bad = (1.0 - trust) * of_blunder
    with np.errstate(divide="ignore"):
        log_good = np.log(good)
        log_bad = math.log(bad) if bad > 0.0 else -np.inf
        both = np.logaddexp(log_good, log_bad)
    # With full trust and no chance at all neither explains it: even odds.
    nothing = np.isneginf(both)
    odds = np.where(nothing, 0.0, log_bad - np.where(nothing, 0.0, log_good))
    return Weighed(np.asarray(both), np.asarray(odds))


def turned(angle_rad: Array) -> Array:
    """Return angles brought into -pi to pi [rad]."""
    return np.asarray((angle_rad + math.pi) % (2.0 * math.pi) - math.pi)


def wrapped_normal(residual_rad: Array, sd_rad: Array) -> Array:
    """Return the density of a normal error of an angle [1/rad].

    Parameters
    ----------
    residual_rad : float64 array
        From -pi to pi [rad].
    sd_rad : float64 array
        Standard deviation, up to that of an angle that may be any [rad].

    Notes
    -----
    One turn either way is added: that leaves out less than 1e-7 at an sd of 1.8.
    """
    total = np.zeros(np.broadcast(residual_rad, sd_rad).shape)
    for turn in (-1.0, 0.0, 1.0):
        total += np.exp(-0.5 * ((residual_rad + 2.0 * math.pi * turn) / sd_rad) ** 2)
    return np.asarray(total / (sd_rad * math.sqrt(2.0 * math.pi)))
