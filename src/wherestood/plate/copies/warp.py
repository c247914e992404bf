"""Carry points of one scan to another of the same plate.

Symbols
-------
n    point of the source, from its centre, in half-diagonals of the source
k1   radial term of the source's own lens (docs/conventions.md, *Radial term*)
u    the same point for a perfect lens, ``u = n (1 + k1 |n|^2)``
M    3 x 3 projective matrix with ``M[2, 2] = 1``, in half-diagonals on both sides
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["KINDS", "Frame", "Kind", "Warp", "frame_of"]

Kind = Literal["similarity", "affine", "projective", "projective and radial"]
KINDS: tuple[Kind, ...] = get_args(Kind)
Floats = NDArray[np.float64]

_NEWTON_STEPS = 12


@dataclass(frozen=True)
class Frame:
    """Hold the centre of a scan and half its diagonal [px]."""

    x_px: float
    y_px: float
    half_diagonal_px: float

    def inwards(self, points_px: ArrayLike) -> Floats:
        """Return points from the centre, in half-diagonals."""
        given = np.asarray(points_px, dtype=np.float64)
        return (given - (self.x_px, self.y_px)) / self.half_diagonal_px

    def outwards(self, points: Floats) -> Floats:
        """Return points in pixels again [px]."""
        return points * self.half_diagonal_px + (self.x_px, self.y_px)


def frame_of(width_px: float, height_px: float) -> Frame:
    """Return the frame of a scan of this size [px]."""
    return Frame(width_px / 2.0, height_px / 2.0, np.hypot(width_px, height_px) / 2.0)


@dataclass(frozen=True)
class Warp:
    """Carry points from a source scan to a target scan.

    Attributes
    ----------
    kind : Kind
        Which family of maps it is of.
    terms : (terms,) float64 array
        See `matrix_of`; the radial term stands last where there is one.
    mirrored : bool
        True if the two are left for right to one another.
    source, target : Frame
        Centres and half-diagonals [px].
    """

    kind: Kind
    terms: Floats
    mirrored: bool
    source: Frame
    target: Frame

    @property
    def k1(self) -> float:
        """Return the radial term, no unit; 0 where the kind has none."""
        return float(self.terms[8]) if self.kind == "projective and radial" else 0.0

    @property
    def matrix(self) -> Floats:
        """Return M."""
        return matrix_of(self.kind, self.terms, self.mirrored)

    def forward(self, points_px: ArrayLike) -> Floats:
        """Carry (..., 2) points of the source to the target [px].

        NaN stays NaN, and a point beyond the map's own horizon becomes NaN.
        """
        n = self.source.inwards(points_px)
        u = n * (1.0 + self.k1 * (n**2).sum(axis=-1, keepdims=True))
        return self.target.outwards(_projected(self.matrix, u))

    def backward(self, points_px: ArrayLike) -> Floats:
        """Carry (..., 2) points of the target to the source [px].

        NaN stays NaN; where the lens term cannot be turned round, NaN.
        """
        inverse = np.linalg.inv(self.matrix).astype(np.float64)
        u = _projected(inverse, self.target.inwards(points_px))
        return self.source.outwards(_distorted(u, self.k1))

    def jacobian(self, points_px: ArrayLike) -> Floats:
        """Return how the target point moves with the source point.

        Returns
        -------
        (..., 2, 2) float64 array
            Rows x, y of the target; columns x, y of the source [px/px].
        """
        n = self.source.inwards(points_px)
        by_point, _ = derivatives(self.kind, self.terms, self.mirrored, n)
        scale = self.target.half_diagonal_px / self.source.half_diagonal_px
        return by_point * scale

    def jacobian_of_terms(self, points_px: ArrayLike) -> Floats:
        """Return how the target point moves with the terms.

        Returns
        -------
        (..., 2, terms) float64 array
            [px a unit of the term].
        """
        n = self.source.inwards(points_px)
        _, by_term = derivatives(self.kind, self.terms, self.mirrored, n)
        return by_term * self.target.half_diagonal_px


def matrix_of(kind: Kind, terms: Floats, mirrored: bool) -> Floats:
    """Return M from the terms of a kind.

    A similarity has (a, b, x, y), M = [[a, -b, x], [b, a, y], [0, 0, 1]], its first
    column turned about where mirrored; the others have M's elements row by row.
    """
    matrix = np.eye(3)
    if kind == "similarity":
        a, b, x, y = terms
        sign = -1.0 if mirrored else 1.0
        matrix[:2] = [[sign * a, -b, x], [sign * b, a, y]]
        return matrix
    count = 6 if kind == "affine" else 8
    matrix.ravel()[:count] = terms[:count]
    return matrix


def derivatives(
    kind: Kind, terms: Floats, mirrored: bool, n: Floats
) -> tuple[Floats, Floats]:
    """Return derivatives of the target point by point and by term.

    Parameters
    ----------
    kind, terms, mirrored
        As of `Warp`.
    n : (..., 2) float64 array
        Points of the source in half-diagonals.

    Returns
    -------
    by_point : (..., 2, 2) float64 array
    by_term : (..., 2, terms) float64 array
        Both in half-diagonals of the target.
    """
    matrix = matrix_of(kind, terms, mirrored)
    k1 = float(terms[8]) if kind == "projective and radial" else 0.0
    r2 = (n**2).sum(axis=-1)
    u = n * (1.0 + k1 * r2)[..., None]
    below = u @ matrix[2, :2] + 1.0
    target = (u @ matrix[:2, :2].T + matrix[:2, 2]) / below[..., None]
    by_u = (matrix[:2, :2] - target[..., :, None] * matrix[2, :2][None, :]) / below[
        ..., None, None
    ]
    by_n = (1.0 + k1 * r2)[..., None, None] * np.eye(2) + 2.0 * k1 * (
        n[..., :, None] * n[..., None, :]
    )
    by_term = np.zeros((*n.shape[:-1], 2, len(terms)))
    if kind == "similarity":
        sign = -1.0 if mirrored else 1.0
        by_term[..., 0, 0], by_term[..., 1, 0] = sign * u[..., 0], u[..., 1]
        by_term[..., 0, 1], by_term[..., 1, 1] = -u[..., 1], sign * u[..., 0]
        by_term[..., 0, 2] = by_term[..., 1, 3] = 1.0
        return by_u @ by_n, by_term
    for row in (0, 1):
        by_term[..., row, 3 * row : 3 * row + 2] = u / below[..., None]
        by_term[..., row, 3 * row + 2] = 1.0 / below
    if kind != "affine":
        by_term[..., :, 6:8] = (
            -target[..., :, None] * u[..., None, :] / below[..., None, None]
        )
    if kind == "projective and radial":
        by_term[..., :, 8] = (by_u @ (n * r2[..., None])[..., None])[..., 0]
    return by_u @ by_n, by_term


def _projected(matrix: Floats, points: Floats) -> Floats:
    below = points @ matrix[2, :2] + matrix[2, 2]
    # Behind the map's horizon nothing of the picture lies.
    below = np.where(below * np.sign(matrix[2, 2]) > 1e-9, below, np.nan)
    above = points @ matrix[:2, :2].T + matrix[:2, 2]
    result: Floats = above / below[..., None]
    return result


def _distorted(u: Floats, k1: float) -> Floats:
    """Solve ``u = n (1 + k1 |n|^2)`` for n by Newton's method along the radius."""
    if k1 == 0.0:
        return u
    wanted = np.hypot(u[..., 0], u[..., 1])
    seen = wanted.copy()
    for _ in range(_NEWTON_STEPS):
        slope = 1.0 + 3.0 * k1 * seen**2
        seen = seen - (seen * (1.0 + k1 * seen**2) - wanted) / np.where(
            slope > 0.05, slope, np.nan
        )
    share = np.divide(seen, wanted, out=np.ones_like(seen), where=wanted > 0.0)
    result: Floats = u * share[..., None]
    return result
