"""Add rows with shared errors to the normal equations of one camera.

Symbols
-------
r = J x + H s + e : a residual; x the camera's unknowns, s the shared errors, standard
    normal, e its own error of variance v
A = I + sum h h' / v,  B = sum h j' / v,  g = sum h r / v

The shared errors are integrated out: with them ``N = J' C^-1 J`` becomes
``N - B' A^-1 B``, the right side ``- B' A^-1 g``, the squares ``- g' A^-1 g`` and
``log|C|`` grows by ``log|A|`` (Woodbury).
"""

from __future__ import annotations

from math import log, sqrt

import numba
import numpy as np

from wherestood.evidence.unknowns import CAMERA, COUNT

__all__ = ["NO", "YES", "add_row", "eliminate_shared"]

#: For kernels that call one another. For each True or False written out numba compiles
#: the function called, and all that it calls, once more.
YES, NO = np.True_, np.False_


@numba.njit(cache=True, nogil=True, error_model="numpy")
def add_row(  # type: ignore[no-untyped-def]
    theta, residual, row, own, which, share, count, whole, linear, normal, right,
    between, across, pull,
):  # fmt: skip
    """Add one residual; return its square over its own variance.

    Parameters
    ----------
    row : (unknowns,) array
        Its derivatives.
    own : float
        Variance of what it shares with no other.
    which, share : arrays
        The errors it shares and its derivatives by them, the first ``count`` of each.
    whole : bool
        Whether all unknowns are solved for, or bearing, ln c and cross are held.
    linear : bool
        Whether the linear unknowns stand as in ``theta``, or are measured from zero.
    normal, right : arrays
        Of the camera's unknowns; the lower triangle is filled.
    between, across, pull : arrays
        A, B and g of the shared errors.
    """
    weight = 1.0 / own
    if linear:
        for p in range(CAMERA, COUNT):
            residual += row[p] * theta[p]
    if not whole:
        row[0] = 0.0
        row[1] = 0.0
        row[5] = 0.0
    for p in range(COUNT):
        lifted = row[p] * weight
        if lifted == 0.0:
            continue
        right[p] += lifted * residual
        for q in range(p + 1):
            normal[p, q] += lifted * row[q]
    for i in range(count):
        lifted = share[i] * weight
        if lifted == 0.0:
            continue
        one = which[i]
        pull[one] += lifted * residual
        for p in range(COUNT):
            across[one, p] += lifted * row[p]
        for j in range(count):
            between[one, which[j]] += lifted * share[j]
    return residual * residual * weight


@numba.njit(cache=True, nogil=True, error_model="numpy")
def eliminate_shared(between, across, pull, normal, right):  # type: ignore[no-untyped-def]
    """Integrate the shared errors out; return what squares and log|C| grow by.

    ``between`` becomes its own Cholesky factor, ``across`` and ``pull`` are solved
    by it. The unknowns may be one camera's, or those of all plates of a panorama.
    """
    count = pull.size
    unknowns = across.shape[1]
    log_det = 0.0
    for i in range(count):
        for j in range(i + 1):
            value = between[i, j]
            for k in range(j):
                value -= between[i, k] * between[j, k]
            if i == j:
                between[i, i] = sqrt(value)
                log_det += log(value)
            else:
                between[i, j] = value / between[j, j]
        for k in range(i):
            lower = between[i, k]
            if lower != 0.0:
                pull[i] -= lower * pull[k]
                for p in range(unknowns):
                    across[i, p] -= lower * across[k, p]
        pull[i] /= between[i, i]
        for p in range(unknowns):
            across[i, p] /= between[i, i]
    square = 0.0
    for i in range(count):
        square -= pull[i] * pull[i]
        for p in range(unknowns):
            if across[i, p] == 0.0:
                continue
            right[p] -= across[i, p] * pull[i]
            for q in range(p + 1):
                normal[p, q] -= across[i, p] * across[i, q]
    return square, log_det
