"""Tie the plates of a panorama by things that show on two of them.

Symbols
-------
alpha, T : bearing from the lens axis and tangent of elevation that a camera gives a
place on its plate; b its bearing
r = (b_i + alpha_i - b_j - alpha_j, T_i - T_j) : residual between plates i and j
J : derivatives of (alpha, T) by the place on the plate; sigma its standard error
p : parallax, since the camera turns about the tripod and not about the lens [rad]

The residual's covariance is ``sigma^2 (J_i J_i' + J_j J_j') + diag(p^2, (T p)^2)``. A
tie that is a blunder, two things taken for one, may lie anywhere on the second plate.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log, pi, sqrt

import numba
import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.items.tie import TieMark
from wherestood.evidence.mark_rows import seen_from_plate
from wherestood.evidence.unknowns import CAMERA, COUNT

__all__ = ["NO_TIES", "TURNED_M", "TieTable", "add_ties", "tie_state", "turns_by_ties"]

Array = NDArray[np.float64]

#: Lens before the tripod's axis, and its doubt [m]: 0.15 +- 0.15. Common practice.
TURNED_M = math.hypot(0.15, 0.15)
#: Usual distance of a thing seen on two plates, where nobody says [m].
USUAL_DISTANCE_M = 100.0


@dataclass(frozen=True)
class TieTable:
    """Hold tie marks as scored, for one hand of the plates.

    Attributes
    ----------
    pair : (ties, 2) int64 array
        Which plates each joins.
    place : (ties, 2, 5) float64 array
        X, Y and standard error over each plate's diagonal, Y up, and the second and
        third order warp at X.
    parallax : (ties,) float64 array
        How far a station may be off, over the thing's distance [rad].
    log_trust, log_blunder : (ties,) float64 array
        Log probability that it is one thing; log density of a blunder.
    marks : tuple of TieMark
    """

    pair: NDArray[np.int64]
    place: Array
    parallax: Array
    log_trust: Array
    log_blunder: Array
    marks: tuple[TieMark, ...] = ()

    @classmethod
    def of(
        cls,
        marks: Sequence[TieMark],
        pairs: Sequence[tuple[int, int]],
        sizes_px: Sequence[tuple[int, int]],
    ) -> TieTable:
        """Make ready tie marks.

        Parameters
        ----------
        marks : sequence of TieMark
        pairs : sequence of (int, int)
            The plates that each joins, as numbers from 0.
        sizes_px : sequence of (int, int)
            Width and height of each plate's scan [px].
        """
        if not marks:
            return NO_TIES
        place = np.empty((len(marks), 2, 5))
        blunder = np.empty(len(marks))
        for row, (mark, pair) in enumerate(zip(marks, pairs, strict=True)):
            for side, at in enumerate((mark.first_px, mark.second_px)):
                width, height = sizes_px[pair[side]]
                diagonal = math.hypot(width, height)
                x = (at[0] - width / 2.0) / diagonal
                across = x / (width / diagonal / 2.0)
                place[row, side] = (
                    x,
                    (height / 2.0 - at[1]) / diagonal,
                    mark.sd_px / diagonal,
                    1.5 * across**2 - 0.5,
                    2.5 * across**3 - 1.5 * across,
                )
                blunder[row] = -math.log(width * height / diagonal**2)
        trust = np.array([min(mark.trust, 1.0 - 1e-9) for mark in marks])
        away = [mark.distance_m or USUAL_DISTANCE_M for mark in marks]
        return cls(
            np.array(pairs, dtype=np.int64).reshape(-1, 2),
            place,
            TURNED_M / np.array(away),
            np.log(trust),
            np.log1p(-trust) + blunder,
            tuple(marks),
        )

    def mirrored(self) -> TieTable:
        """Return the ties of the plates seen from behind."""
        place = self.place.copy()
        place[..., (0, 4)] *= -1.0
        return replace(self, place=place)

    def take(self, which: NDArray[np.bool_]) -> TieTable:
        """Return some of the ties."""
        marks = tuple(m for m, kept in zip(self.marks, which, strict=False) if kept)
        return TieTable(
            self.pair[which],
            self.place[which],
            self.parallax[which],
            self.log_trust[which],
            self.log_blunder[which],
            marks,
        )

    def handed(
        self,
    ) -> tuple[NDArray[np.int64], Array, Array, Array, Array]:
        """Return what the compiled sums take."""
        return self.pair, self.place, self.parallax, self.log_trust, self.log_blunder


NO_TIES = TieTable(
    np.zeros((0, 2), dtype=np.int64),
    np.zeros((0, 2, 5)),
    np.zeros(0),
    np.zeros(0),
    np.zeros(0),
)


@numba.njit(cache=True, nogil=True, error_model="numpy")
def _residual(theta, tie, pair, place, parallax, wider, rows):  # type: ignore[no-untyped-def]
    """Return residual, covariance and log |det J| of a tie; fill derivatives.

    ``rows`` (2, 2, unknowns) receives those of both residuals by the one camera's
    and, with the sign turned, by the other's unknowns.
    """
    i, j = pair[tie, 0], pair[tie, 1]
    first = seen_from_plate(theta[i], place[tie, 0], rows[0])
    second = seen_from_plate(theta[j], place[tie, 1], rows[1])
    turn = theta[i, 0] + first[0] - theta[j, 0] - second[0]
    turn = (turn + pi) % (2.0 * pi) - pi
    rise = first[1] - second[1]
    far = parallax[tie] * parallax[tie] + wider * wider
    v00, v01 = far, 0.0
    v11 = parallax[tie] ** 2 * second[1] ** 2 + wider * wider
    for side in range(2):
        seen = first if side == 0 else second
        noise = place[tie, side, 2] ** 2
        v00 += noise * (seen[2] * seen[2] + seen[3] * seen[3])
        v01 += noise * (seen[2] * seen[4] + seen[3] * seen[5])
        v11 += noise * (seen[4] * seen[4] + seen[5] * seen[5])
    units = log(abs(second[2] * second[5] - second[3] * second[4]))
    return turn, rise, v00, v01, v11, units


@numba.njit(cache=True, nogil=True, error_model="numpy")
def add_ties(  # type: ignore[no-untyped-def]
    theta, pair, place, parallax, log_trust, log_blunder, wider, held, normal, right
):
    """Add tie marks to joint normal equations; return squares and log determinant.

    Parameters
    ----------
    theta : (plates, unknowns) array
        The cameras.
    pair, place, parallax, log_trust, log_blunder : arrays
        As `TieTable`.
    wider : float
        Added to every standard error of a direction, squares adding up.
    held : (plates, unknowns) bool array
        Unknowns that are not solved for.
    normal, right : (plates * unknowns, ...) arrays
        Added to, in the order of `panorama_mode`: cameras first.
    """
    rows = np.zeros((2, 2, COUNT))
    square = 0.0
    log_det = 0.0
    column = np.empty((2, 2 * CAMERA))
    index = np.empty(2 * CAMERA, dtype=np.int64)
    for tie in range(pair.shape[0]):
        turn, rise, v00, v01, v11, units = _residual(
            theta, tie, pair, place, parallax, wider, rows
        )
        l00 = sqrt(v00)
        l10 = v01 / l00
        l11 = sqrt(max(v11 - l10 * l10, 1e-30))
        r0 = turn / l00
        r1 = (rise - l10 * r0) / l11
        density = (
            log_trust[tie]
            - 0.5 * (r0 * r0 + r1 * r1)
            - log(l00 * l11)
            - log(2.0 * pi)
            + units
        )
        if log_blunder[tie] > density:
            log_det -= 2.0 * log_blunder[tie]
            continue
        square += r0 * r0 + r1 * r1
        log_det -= 2.0 * (density + 0.5 * (r0 * r0 + r1 * r1))
        for side in range(2):
            plate = pair[tie, side]
            sign = 1.0 if side == 0 else -1.0
            for p in range(CAMERA):
                at = side * CAMERA + p
                index[at] = plate * CAMERA + p
                j0 = sign * rows[side, 0, p] / l00
                column[0, at] = j0
                column[1, at] = (sign * rows[side, 1, p] - l10 * j0) / l11
                if held[plate, p]:
                    column[0, at] = 0.0
                    column[1, at] = 0.0
        for a in range(2 * CAMERA):
            right[index[a]] += column[0, a] * r0 + column[1, a] * r1
            for b in range(2 * CAMERA):
                if index[b] <= index[a]:
                    normal[index[a], index[b]] += (
                        column[0, a] * column[0, b] + column[1, a] * column[1, b]
                    )
    return square, log_det


def tie_state(table: TieTable, theta: Array) -> tuple[Array, Array]:
    """Return how cameras explain the ties.

    Parameters
    ----------
    theta : (plates, unknowns) float64 array

    Returns
    -------
    blunder_log_odds : (ties,) float64 array
        Log odds that each joins two different things.
    off : (ties, 2) float64 array
        Bearing and tangent by which the two plates differ [rad].
    """
    rows = np.zeros((2, 2, COUNT))
    odds, off = np.zeros(len(table.pair)), np.zeros((len(table.pair), 2))
    for tie in range(len(table.pair)):
        turn, rise, v00, v01, v11, units = _residual(
            theta, tie, table.pair, table.place, table.parallax, 0.0, rows
        )
        det = v00 * v11 - v01 * v01
        square = (v11 * turn**2 - 2.0 * v01 * turn * rise + v00 * rise**2) / det
        density = (
            table.log_trust[tie]
            - 0.5 * (square + math.log(det))
            - math.log(2.0 * math.pi)
            + units
        )
        odds[tie] = table.log_blunder[tie] - density
        off[tie] = turn, rise
    return odds, off


def turns_by_ties(table: TieTable, ln_c: Array) -> dict[tuple[int, int], Array]:
    """Return the turn from one plate's axis to another's, for lenses, axes level.

    Parameters
    ----------
    ln_c : (lenses,) float64 array
        Principal distance over the diagonal, of all plates alike.

    Returns
    -------
    dict of (int, int) to (lenses,) float64 array
        Of each pair of plates with ties: the median bearing of the second less that
        of the first [rad].
    """
    c = np.exp(ln_c)[:, None]
    found: dict[tuple[int, int], Array] = {}
    flipped = table.pair[:, 0] > table.pair[:, 1]
    low, high = table.pair.min(axis=1, initial=2**31), table.pair.max(axis=1, initial=0)
    for pair in sorted(set(zip(low.tolist(), high.tolist(), strict=True))):
        which = (low == pair[0]) & (high == pair[1])
        x = table.place[which, :, 0]
        x = np.where(flipped[which, None], x[:, ::-1], x)
        turn = np.arctan2(x[None, :, 0], c) - np.arctan2(x[None, :, 1], c)
        found[pair] = np.median(turn, axis=1)
    return found
