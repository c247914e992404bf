"""Solve the normal equations of all plates of a panorama."""

from __future__ import annotations

from math import sqrt

import numba
import numpy as np

__all__ = ["eliminate_joint", "invert_joint", "solve_joint"]


@numba.njit(cache=True, nogil=True, fastmath=True, error_model="numpy")
def eliminate_joint(normal, right, pivot):  # type: ignore[no-untyped-def]
    """Eliminate the joint unknowns, the last one first, as `lanes.eliminate` does."""
    for k in range(right.size - 1, -1, -1):
        value = max(normal[k, k], 1e-300)
        pivot[k] = value
        inverse = 1.0 / value
        for i in range(k):
            factor = normal[k, i] * inverse
            if factor == 0.0:
                continue
            right[i] -= factor * right[k]
            for j in range(i + 1):
                normal[i, j] -= factor * normal[k, j]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def solve_joint(normal, right, pivot, out):  # type: ignore[no-untyped-def]
    """Solve equations that `eliminate_joint` has gone through."""
    for k in range(right.size):
        value = right[k]
        for p in range(k):
            value -= normal[k, p] * out[p]
        out[k] = value / pivot[k]


@numba.njit(cache=True, nogil=True, error_model="numpy")
def invert_joint(normal, pivot, inverse):  # type: ignore[no-untyped-def]
    """Fill the inverse of a matrix that `eliminate_joint` has gone through."""
    size = pivot.size
    rows = np.zeros((size, size))
    for c in range(size):
        root = sqrt(pivot[c])
        rows[c, c] = 1.0 / root
        for k in range(c + 1, size):
            value = 0.0
            for p in range(c, k):
                value -= normal[k, p] * rows[c, p]
            rows[c, k] = value / pivot[k]
    for p in range(size):
        for q in range(p + 1):
            value = 0.0
            for c in range(q + 1):
                value += rows[c, p] * rows[c, q]
            inverse[p, q] = value
            inverse[q, p] = value
