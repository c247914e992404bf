"""Fit a straight map from sheet to ground to pins.

Solves for the terms of a similarity, an affine or a projective map by weighted least
squares of what is left over on the ground. One answer at most; none where the pins do
not hold the terms.

Symbols
-------
u  place on the sheet, in half-diagonals of the pins from their middle, y turned up
v  place on the ground [m], from the middle of the pins
H  (3, 3) matrix of the map, its last number 1
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

__all__ = ["STRAIGHT_TERMS", "StraightKind", "carried", "columns", "fit_straight"]

Floats = NDArray[np.float64]
StraightKind = Literal["similarity", "affine", "projective"]

#: How many terms each map has: twice the pins that it needs.
STRAIGHT_TERMS: dict[StraightKind, int] = {
    "similarity": 4,
    "affine": 6,
    "projective": 8,
}
#: A place whose denominator is less lies beyond the map's own horizon.
_BEYOND = 1e-6
#: Beyond this the terms are not held: three of four pins in a line, and the like.
_LARGEST_CONDITION = 1e5


def fit_straight(
    kind: StraightKind, u: Floats, v: Floats, weight: Floats, *, mirrored: bool
) -> Floats | None:
    """Return the matrix of the map that leaves least over.

    Parameters
    ----------
    kind : {"similarity", "affine", "projective"}
        Family of maps.
    u, v : (pins, 2) float64 arrays
        As in *Symbols*.
    weight : (pins,) float64 array
        One over the standard error of each [1/m].
    mirrored : bool
        Whether a similarity turns left to right; the others find out.

    Returns
    -------
    (3, 3) float64 array or None
        None where the pins do not hold it.
    """
    size = float(np.abs(v).max()) or 1.0
    if kind == "similarity":
        sign = -1.0 if mirrored else 1.0
        rows = np.zeros((len(u), 2, 4))
        rows[:, 0, 0], rows[:, 0, 1] = u[:, 0], -u[:, 1]
        rows[:, 1, 0], rows[:, 1, 1] = sign * u[:, 1], sign * u[:, 0]
        rows[:, 0, 2] = rows[:, 1, 3] = 1.0
    else:
        rows = _affine_rows(u)
    terms = _solved(rows, v, weight)
    if terms is None:
        return None
    if kind == "similarity":
        a, b, c, d = terms
        return np.array([[a, -b, c], [sign * b, sign * a, d], [0.0, 0.0, 1.0]])
    H = np.vstack([terms.reshape(2, 3), [0.0, 0.0, 1.0]])
    return H if kind == "affine" else _projective(H, u, v, weight, size)


def _affine_rows(u: Floats) -> Floats:
    rows = np.zeros((len(u), 2, 6))
    for axis in (0, 1):
        rows[:, axis, 3 * axis : 3 * axis + 2] = u
        rows[:, axis, 3 * axis + 2] = 1.0
    return rows


def _solved(rows: Floats, v: Floats, weight: Floats) -> Floats | None:
    terms = rows.shape[2]
    matrix = (rows * weight[:, None, None]).reshape(-1, terms)
    if matrix.shape[0] < terms or np.linalg.cond(matrix) > _LARGEST_CONDITION:
        return None
    found, *_ = np.linalg.lstsq(matrix, (v * weight[:, None]).ravel(), rcond=None)
    return np.asarray(found, dtype=np.float64)


def _projective(
    affine: Floats, u: Floats, v: Floats, weight: Floats, size: float
) -> Floats | None:
    """Go from the direct linear solution to least leftovers on the ground."""
    v1 = v / size
    start = np.diag([1 / size, 1 / size, 1.0]) @ affine
    rows = np.zeros((len(u), 2, 8))
    rows[:, :, :6] = _affine_rows(u)
    rows[:, 0, 6:] = -v1[:, :1] * u
    rows[:, 1, 6:] = -v1[:, 1:] * u
    linear = _solved(rows, v1, weight)
    if linear is None:
        return None
    guess = np.append(linear, 1.0).reshape(3, 3)
    if not np.all(np.isfinite(carried(guess, u))):
        guess = start

    def matrix(terms: Floats) -> Floats:
        return np.append(terms, 1.0).reshape(3, 3)

    def left(terms: Floats) -> Floats:
        with np.errstate(divide="ignore", invalid="ignore"):
            below = u @ terms[6:8] + 1.0
            below = np.where(np.abs(below) < _BEYOND, _BEYOND, below)
        above = np.column_stack([u, np.ones(len(u))]) @ matrix(terms)[:2].T
        miss = (above / below[:, None] - v1) * weight[:, None] * size
        return np.asarray(miss.ravel(), dtype=np.float64)

    def slope(terms: Floats) -> Floats:
        by_term = columns("projective", matrix(terms), u)
        return np.asarray(
            (np.nan_to_num(by_term) * weight[:, None, None] * size).reshape(-1, 8)
        )

    found = least_squares(
        left, guess.ravel()[:8], jac=slope, method="lm", xtol=1e-15, ftol=1e-15,
        gtol=1e-15, max_nfev=400,
    )  # fmt: skip
    held = slope(found.x)
    if np.linalg.cond(held) > _LARGEST_CONDITION:
        return None
    return np.diag([size, size, 1.0]) @ matrix(found.x)


def carried(H: Floats, u: Floats) -> Floats:
    """Return places of the sheet on the ground; NaN beyond the map's horizon [m]."""
    whole = np.concatenate([u, np.ones((*u.shape[:-1], 1))], axis=-1) @ H.T
    below = np.where(whole[..., 2:] > _BEYOND, whole[..., 2:], np.nan)
    return np.asarray(whole[..., :2] / below, dtype=np.float64)


def columns(kind: StraightKind, H: Floats, u: Floats) -> Floats:
    """Return how places on the ground move with the terms of a map.

    Returns
    -------
    (places, 2, terms) float64 array
        NaN beyond the map's horizon.
    """
    if kind == "similarity":
        sign = 1.0 if np.linalg.det(H[:2, :2]) > 0.0 else -1.0
        rows = np.zeros((len(u), 2, 4))
        rows[:, 0, 0], rows[:, 0, 1] = u[:, 0], -u[:, 1]
        rows[:, 1, 0], rows[:, 1, 1] = sign * u[:, 1], sign * u[:, 0]
        rows[:, 0, 2] = rows[:, 1, 3] = 1.0
        return rows
    if kind == "affine":
        return _affine_rows(u)
    below = (u @ H[2, :2] + H[2, 2])[:, None, None]
    below = np.where(below > _BEYOND, below, np.nan)
    rows = np.zeros((len(u), 2, 8))
    rows[:, :, :6] = _affine_rows(u) / below
    at = carried(H, u)
    rows[:, 0, 6:] = -at[:, :1] * u / below[:, 0]
    rows[:, 1, 6:] = -at[:, 1:] * u / below[:, 0]
    return rows
