"""Set up the equations of plates and things, and take things out of them.

Symbols: J derivatives of all residuals r, each in its own standard errors; N = J'J in
blocks U (plates and habits), V (things, 3 by 3 on its diagonal) and W between them;
S = U - W V^-1 W', what is left for the plates once the things are taken out.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, sparse

__all__ = ["SMALL", "Equations", "Reduced"]

Array = NDArray[np.float64]
#: So few unknowns are faster as a plain array than as a sparse one.
SMALL = 300


@dataclass(frozen=True)
class Equations:
    """Hold normal equations of plates, habits and things.

    Plates' unknowns stand in standard errors of their own fixes: there U is never less
    than 1, and nothing is lost when things are taken out.

    Attributes
    ----------
    jacobian : (rows, unknowns) sparse or float64 array
        Plates' unknowns first, then habits', then three of each thing.
    residual : (rows,) float64 array
        In standard errors.
    firsts : int
        How many unknowns are no things'.
    """

    jacobian: Any
    residual: Array
    firsts: int

    @cached_property
    def normal(self) -> Any:
        """Return N, sparse as the derivatives are."""
        found = self.jacobian.T @ self.jacobian
        return sparse.csr_array(found) if sparse.issparse(found) else found

    @cached_property
    def gradient(self) -> Array:
        """Return J'r."""
        return np.asarray(self.jacobian.T @ self.residual)

    @cached_property
    def diagonal(self) -> Array:
        """Return N's diagonal."""
        return np.asarray(self.normal.diagonal())

    def of_things(self) -> Array:
        """Return each thing's own step, all else held fast: (things, 3) array."""
        g = self.gradient[self.firsts :].reshape(-1, 3, 1)
        return np.asarray(-np.linalg.solve(self.stiffness_of_things(), g)[..., 0])

    def stiffness_of_things(self) -> Array:
        """Return V's blocks: (things, 3, 3) array."""
        firsts, N = self.firsts, self.normal
        return _blocks(N[firsts:, firsts:], (N.shape[0] - firsts) // 3)

    def reduced(self, damping: float = 0.0) -> Reduced:
        """Take the things out, each unknown held by a share of its own stiffness."""
        firsts, N = self.firsts, self.normal
        things = (N.shape[0] - firsts) // 3
        stiff = damping * self.diagonal
        U, W = N[:firsts, :firsts], N[:firsts, firsts:]
        V = _blocks(N[firsts:, firsts:], things)
        V = V + stiff[firsts:].reshape(things, 3)[:, :, None] * np.eye(3)
        back: Array = np.asarray(np.linalg.inv(V), dtype=np.float64)
        Y: Any
        if sparse.issparse(N):
            at = np.arange(things)
            shape = (3 * things, 3 * things)
            Y = sparse.bsr_array((back, at, np.arange(things + 1)), shape=shape) @ W.T
            Y = sparse.csr_array(Y)
            S = U.toarray() - (W @ Y).toarray()
        else:
            Y = (back @ W.T.reshape(things, 3, firsts)).reshape(-1, firsts)
            S = U - W @ Y
        S = S + np.diag(stiff[:firsts])
        return Reduced(linalg.cho_factor(S, lower=True), back, Y)


@dataclass(frozen=True)
class Reduced:
    """Hold equations that have their things taken out, ready to be solved.

    Attributes
    ----------
    factor : tuple
        Of S, by Cholesky.
    V_inverse : (things, 3, 3) float64 array
    Y : sparse or float64 array
        V^-1 W'.
    """

    factor: tuple[Array, bool]
    V_inverse: Array
    Y: Any

    def step(self, gradient: Array) -> Array:
        """Return -N^-1 times the gradient."""
        firsts = self.factor[0].shape[0]
        g, h = gradient[:firsts], gradient[firsts:]
        first = -linalg.cho_solve(self.factor, g - self.Y.T @ h)
        own = np.einsum("tij,tj->ti", self.V_inverse, h.reshape(-1, 3)).ravel()
        return np.concatenate((first, -own - self.Y @ first))

    def covariance(self) -> tuple[Array, Array]:
        """Return the covariance of the firsts, and of each thing."""
        firsts = self.factor[0].shape[0]
        whole = np.asarray(linalg.cho_solve(self.factor, np.eye(firsts)))
        things = self.V_inverse.copy()
        for number in range(len(things)):
            rows = self.Y[3 * number : 3 * number + 3]
            if sparse.issparse(rows):
                some = np.unique(rows.indices)
                part, shared = rows[:, some].toarray(), whole[np.ix_(some, some)]
            else:
                part, shared = rows, whole
            things[number] += part @ shared @ part.T
        return whole, things


def _blocks(V: Any, things: int) -> Array:
    """Return a block diagonal's blocks."""
    if not sparse.issparse(V):
        at = np.arange(things)
        return np.asarray(V.reshape(things, 3, things, 3)[at, :, at, :])
    found = V.tocoo()
    blocks = np.zeros((things, 3, 3))
    blocks[found.row // 3, found.row % 3, found.col % 3] = found.data
    return blocks
