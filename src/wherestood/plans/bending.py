"""Bend a sheet through its pins like a thin plate of metal.

Solves for the weights by which the ground places of the pins make the ground place of
any other point of the sheet, so that every pin is met and the whole bends least. One
answer.

Symbols
-------
u     place on the sheet, in half-diagonals of the pins from their middle
U(r)  r^2 ln r, the shape of a thin plate pressed at one point

References
----------
F. L. Bookstein, "Principal warps: thin-plate splines and the decomposition of
deformations", IEEE Transactions on Pattern Analysis and Machine Intelligence 11 (1989)
567-585.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import xlogy

__all__ = ["bending_weights"]

Floats = NDArray[np.float64]


def bending_weights(pins_u: Floats, u: Floats) -> Floats:
    """Return the share of every pin in every place.

    Parameters
    ----------
    pins_u : (pins, 2) float64 array
        The pins, not all in a line.
    u : (places, 2) float64 array
        The places.

    Returns
    -------
    (places, pins) float64 array
        They add up to 1 in each row; a place is that sum of the pins' ground places.
    """
    count = len(pins_u)
    whole = np.zeros((count + 3, count + 3))
    whole[:count, :count] = _pressed(pins_u, pins_u)
    whole[:count, count:] = _flat(pins_u)
    whole[count:, :count] = whole[:count, count:].T
    beside = np.hstack([_pressed(u, pins_u), _flat(u)])
    shares = np.linalg.solve(whole.T, beside.T).T[:, :count]
    return np.asarray(shares, dtype=np.float64)


def _pressed(u: Floats, pins_u: Floats) -> Floats:
    square = ((u[:, None] - pins_u[None]) ** 2).sum(axis=2)
    return np.asarray(0.5 * xlogy(square, square), dtype=np.float64)


def _flat(u: Floats) -> Floats:
    return np.column_stack([np.ones(len(u)), u])
