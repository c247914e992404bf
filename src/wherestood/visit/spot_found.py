"""Tell where the plate's camera stood by what was read where a tripod stood.

Symbols: V where the tripod stood; D the step from there to the camera; g the gap of
a pair, far thing right of near one positive, read at V and on the plate; F where things
stand. V comes of a receiver. D comes of gaps alone, as differences of what was read and
what the plate shows, in which an error of F counts at second order only::

    g_plate - g_read = (gap at V + D) - (gap at V)

So the two are told by different readings, and neither by the fix.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["GapPair", "SpotFound", "combined_place", "step_by_gaps"]

Array = NDArray[np.float64]
#: A tripod is set up no farther from the spot than this, either way [m].
_GUESS_SD_M = 30.0
#: A step that is known no better than this was not told by its gaps [m].
_UNTOLD_SD_M = 0.6 * _GUESS_SD_M
_TURNS = 12


@dataclass(frozen=True)
class GapPair:
    """Hold a pair of things whose gap was read there and on the plate.

    Attributes
    ----------
    far_m, near_m : (float, float)
        Where they stand, east and north [m].
    far_sd_m, near_sd_m : float
        How far off that may be, either way [m].
    read_rad, plate_rad : float
        The gap as read, and as the plate has it [rad].
    read_sd_rad, plate_sd_rad : float
        Their standard errors [rad].
    """

    far_m: tuple[float, float]
    near_m: tuple[float, float]
    far_sd_m: float
    near_sd_m: float
    read_rad: float
    plate_rad: float
    read_sd_rad: float
    plate_sd_rad: float


@dataclass(frozen=True)
class SpotFound:
    """Hold a step or a place, and how sure it is.

    Attributes
    ----------
    east_m, north_m : float
    covariance_m2 : (2, 2) float64 array
    """

    east_m: float
    north_m: float
    covariance_m2: Array

    @property
    def sd_m(self) -> float:
        """Return the standard error along its least known direction [m]."""
        return float(np.sqrt(np.linalg.eigvalsh(self.covariance_m2)[-1]))

    def moved(self, step: SpotFound) -> SpotFound:
        """Return this place after a step, both as sure as they are."""
        return SpotFound(
            self.east_m + step.east_m,
            self.north_m + step.north_m,
            self.covariance_m2 + step.covariance_m2,
        )


def combined_place(places: Sequence[tuple[float, float, float]]) -> SpotFound:
    """Return where a tripod stood by what several receivers said.

    Parameters
    ----------
    places : sequence of (east, north, sd)
        At least one [m].

    Notes
    -----
    Receivers err alike at one place and hour: several are no surer than the best.
    """
    values = np.array(places, dtype=np.float64)
    weight = 1.0 / values[:, 2] ** 2
    east, north = (weight @ values[:, :2]) / weight.sum()
    return SpotFound(
        float(east), float(north), float(values[:, 2].min()) ** 2 * np.eye(2)
    )


def step_by_gaps(
    pairs: Sequence[GapPair], stood_m: tuple[float, float]
) -> SpotFound | None:
    """Return the step from where gaps were read to where the plate's hold.

    Parameters
    ----------
    pairs : sequence of GapPair
    stood_m : (east, north)
        Where they were read, as far as that is known [m].

    Returns
    -------
    SpotFound or None
        The step; None where the pairs leave it open, as two things far away do, or
        two pairs in one line.

    Notes
    -----
    Least squares in V and D together, things' places held, then the things' own doubt
    carried through: each moves both gaps alike, so that little of it is left.
    """
    if not pairs:
        return None
    at = np.asarray(stood_m, dtype=np.float64)
    things = np.array([[*one.far_m, *one.near_m] for one in pairs])
    read = np.array([[one.read_rad, one.plate_rad] for one in pairs])
    sd = np.array([[one.read_sd_rad, one.plate_sd_rad] for one in pairs])
    thing_sd = np.array([[one.far_sd_m] * 2 + [one.near_sd_m] * 2 for one in pairs])
    solved = _solved(things, read, sd, thing_sd, at)
    step, covariance = solved
    if np.sqrt(np.linalg.eigvalsh(covariance)[-1]) > _UNTOLD_SD_M:
        return None
    return SpotFound(float(step[0]), float(step[1]), covariance)


def _solved(
    things: Array, read: Array, sd: Array, thing_sd: Array, at: Array
) -> tuple[Array, Array]:
    """Return D and its covariance: V, D and the things' errors solved as one."""
    count = len(things)
    x = np.concatenate((at, at, np.zeros(4 * count)))
    # V is known to some tens of metres here: gaps alone shall tell the step.
    precision = np.zeros((x.size, x.size))
    precision[:2, :2] += np.eye(2) / (2.0 * _GUESS_SD_M) ** 2
    tie = np.zeros((2, x.size))
    tie[:, :2], tie[:, 2:4] = -np.eye(2), np.eye(2)
    precision += tie.T @ tie / _GUESS_SD_M**2
    precision[4:, 4:] += np.diag(1.0 / np.maximum(thing_sd, 0.01).ravel() ** 2)
    mean = x.copy()
    weight = 1.0 / sd.ravel() ** 2
    total = precision
    for _ in range(_TURNS):
        told, slope = _gaps(things, x, count)
        off = (read - told + math.pi) % (2.0 * math.pi) - math.pi
        total = precision + slope.T @ (weight[:, None] * slope)
        pull = slope.T @ (weight * off.ravel()) + precision @ (mean - x)
        step = np.clip(np.linalg.solve(total, pull), -_GUESS_SD_M, _GUESS_SD_M)
        x = x + step
        if np.abs(step[:4]).max() < 1e-4:
            break
    covariance = tie @ np.linalg.inv(total) @ tie.T
    return tie @ x, covariance


def _gaps(things: Array, x: Array, count: int) -> tuple[Array, Array]:
    """Return gaps at V and at V + D, (n, 2), and how they go with everything."""
    told = np.empty((count, 2))
    slope = np.zeros((count, 2, x.size))
    moved = things + x[4:].reshape(count, 4)
    for which, first in ((0, 0), (1, 2)):
        stand = x[first : first + 2]
        told[:, which] = 0.0
        for sign, column in ((1.0, 0), (-1.0, 2)):
            off = moved[:, column : column + 2] - stand
            square = np.maximum((off**2).sum(axis=1), 1.0)
            told[:, which] += sign * np.arctan2(off[:, 0], off[:, 1])
            # Bearing goes with a step of what is seen, and against one's own.
            way = sign * np.column_stack((off[:, 1], -off[:, 0])) / square[:, None]
            slope[:, which, first : first + 2] -= way
            for k in range(count):
                slope[k, which, 4 + 4 * k + column : 6 + 4 * k + column] += way[k]
    return told, slope.reshape(2 * count, -1)
