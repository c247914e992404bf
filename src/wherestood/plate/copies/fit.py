"""Fit the map between two scans to pairs of points.

Solves for the terms of a `Warp` from points seen on both scans, by least squares
with Cauchy's loss (a wrong pair must not move the map). One answer at most.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.spatial import cKDTree

from wherestood.plate.copies.warp import (
    Floats,
    Frame,
    Kind,
    Warp,
    derivatives,
    matrix_of,
)

__all__ = ["WarpFit", "fit_warp"]

# Terms of each kind, and the least pairs that give more equations than terms.
TERMS: dict[Kind, int] = {
    "similarity": 4,
    "affine": 6,
    "projective": 8,
    "projective and radial": 9,
}
# Lenses of this trade and of telephones stay within a few per cent at the corner:
# common practice.
K1_SD = 0.05
# Beyond this the pairs lie so nearly on a line that the extra terms are not held.
LARGEST_CONDITION = 1e5
# A feature that is followed at all is placed to some tenth of a pixel: from memory.
LEAST_SD_PX = 0.1
_SD_PER_MAD = 1.4826
# Half the pairs of a plane's scatter lie within 1.177 sd of it.
_MEDIAN_RADIUS = 1.1774
_INSIDE_SD = 3.5
# Fewer pairs look better than they are once a map has been bent to them.
_PAIRS_TO_LEARN_FROM = 20
_LEAST_SCALE = 0.02
_LEAST_NEIGHBOURS = 8


@dataclass(frozen=True)
class WarpFit:
    """Hold a fitted map and how well it is held.

    Attributes
    ----------
    warp : Warp
        The map.
    covariance : (terms, terms) float64 array
        Of the terms.
    residual_px : (pairs, 2) float64 array
        Target point minus carried source point [px].
    inside : (pairs,) bool array
        Pairs that the map explains.
    sd_px : float
        Scatter of those pairs, one axis [px].
    bend_sd_px : float
        The part of it that neighbours share, one axis: paper curl and the like,
        which the map does not follow [px].
    """

    warp: Warp
    covariance: Floats
    residual_px: Floats
    inside: NDArray[np.bool_]
    sd_px: float
    bend_sd_px: float

    @property
    def pairs(self) -> int:
        """Return how many pairs the map explains."""
        return int(self.inside.sum())


def fit_warp(
    source_px: Floats,
    target_px: Floats,
    sd_px: Floats,
    frames: tuple[Frame, Frame],
    *,
    mirrored: bool,
    kind: Kind | None = None,
) -> WarpFit | None:
    """Fit a map to pairs of points.

    Parameters
    ----------
    source_px, target_px : (pairs, 2) float64 arrays
        Points on either scan [px].
    sd_px : (pairs,) float64 array
        Standard error of a pair, one axis, on the target [px].
    frames : (Frame, Frame)
        Of source and target.
    mirrored : bool
        Whether the two are left for right to one another.
    kind : Kind, optional
        Family of maps; the one that says most with fewest terms if left out.

    Returns
    -------
    WarpFit or None
        None where the pairs hold no map: too few, or all on one spot.

    Notes
    -----
    Without a kind, each is fitted and Schwarz's criterion chooses:
    ``3 sum ln(1 + r^2) + terms ln(equations)``, minus twice the log of a plane Cauchy
    density, r in standard errors, is least [1]_. A kind whose terms the pairs do not
    hold (nearly on a line, as along a break) is left out.

    References
    ----------
    .. [1] G. Schwarz, "Estimating the dimension of a model", Annals of Statistics
       6 (1978) 461-464.
    """
    kinds = (kind,) if kind else tuple(TERMS)
    scale = _scale_of(source_px, target_px, sd_px, frames, mirrored, kinds)
    best: tuple[float, WarpFit] | None = None
    for tried in kinds:
        fit = _fit(source_px, target_px, sd_px * scale, frames, mirrored, tried)
        if fit is None:
            continue
        r = fit.residual_px / (sd_px * scale)[:, None]
        loss = 3.0 * float(np.log1p((r**2).sum(axis=1)).sum())
        loss += TERMS[tried] * np.log(2.0 * len(source_px))
        if best is None or loss < best[0]:
            best = (loss, fit)
    return best[1] if best else None


def _scale_of(
    source: Floats,
    target: Floats,
    sd_px: Floats,
    frames: tuple[Frame, Frame],
    mirrored: bool,
    kinds: tuple[Kind, ...],
) -> float:
    """Return the scatter in units of what was stated, by the richest map held."""
    for kind in reversed(kinds):
        if 2 * len(source) < 2 * TERMS[kind]:
            continue  # too few equations over to learn a scatter from
        scale, fit = 3.0, None
        for _ in range(3):
            fit = _fit(source, target, sd_px * scale, frames, mirrored, kind)
            if fit is None:
                break
            miss = np.hypot(*fit.residual_px.T) / sd_px
            share = 2.0 * len(source) / (2.0 * len(source) - TERMS[kind])
            least = _LEAST_SCALE if len(source) >= _PAIRS_TO_LEARN_FROM else 1.0
            scale = max(
                float(np.median(miss)) / _MEDIAN_RADIUS * float(np.sqrt(share)), least
            )
        if fit is not None:
            return scale
    return 1.0


def _fit(
    source: Floats,
    target: Floats,
    sd_px: Floats,
    frames: tuple[Frame, Frame],
    mirrored: bool,
    kind: Kind,
) -> WarpFit | None:
    if 2 * len(source) < TERMS[kind]:
        return None
    n, m = frames[0].inwards(source), frames[1].inwards(target)
    weight = (frames[1].half_diagonal_px / sd_px)[:, None]
    start = _start(n, m, weight, mirrored, kind)
    if start is None:
        return None

    def miss(terms: Floats) -> Floats:
        matrix = matrix_of(kind, terms, mirrored)
        k1 = terms[8] if TERMS[kind] == 9 else 0.0
        u = n * (1.0 + k1 * (n**2).sum(axis=1, keepdims=True))
        below = np.maximum(u @ matrix[2, :2] + 1.0, 1e-3)
        carried = (u @ matrix[:2, :2].T + matrix[:2, 2]) / below[:, None]
        return np.append(((carried - m) * weight).ravel(), k1 / K1_SD)

    def slope(terms: Floats) -> Floats:
        _, by_term = derivatives(kind, terms, mirrored, n)
        last = np.zeros((1, len(terms)))
        if TERMS[kind] == 9:
            last[0, 8] = 1.0 / K1_SD
        return np.vstack([(by_term * weight[..., None]).reshape(-1, len(terms)), last])

    found = least_squares(miss, start, jac=slope, loss="cauchy", max_nfev=60)
    held = slope(found.x)
    if not np.all(np.isfinite(held)) or np.linalg.cond(held) > LARGEST_CONDITION:
        return None
    warp = Warp(kind, found.x, mirrored, *frames)
    residual = target - warp.forward(source)
    if not np.all(np.isfinite(residual)):
        return None
    return _judged(warp, source, residual, sd_px, held)


def _start(
    n: Floats, m: Floats, weight: Floats, mirrored: bool, kind: Kind
) -> Floats | None:
    """Return terms to start from: a straight solution without regard to blunders."""
    rows = np.zeros((len(n), 2, TERMS["affine" if kind != "similarity" else kind]))
    if kind == "similarity":
        sign = -1.0 if mirrored else 1.0
        rows[:, 0, 0], rows[:, 1, 0] = sign * n[:, 0], n[:, 1]
        rows[:, 0, 1], rows[:, 1, 1] = -n[:, 1], sign * n[:, 0]
        rows[:, 0, 2] = rows[:, 1, 3] = 1.0
    else:
        for axis in (0, 1):
            rows[:, axis, 3 * axis : 3 * axis + 2] = n
            rows[:, axis, 3 * axis + 2] = 1.0
    weighted = rows * weight[..., None]
    matrix = weighted.reshape(-1, rows.shape[2])
    if np.linalg.matrix_rank(matrix, tol=1e-9 * np.abs(matrix).max()) < rows.shape[2]:
        return None
    terms, *_ = np.linalg.lstsq(matrix, (m * weight).ravel(), rcond=None)
    return np.append(terms, np.zeros(TERMS[kind] - len(terms)))


def _judged(
    warp: Warp, source: Floats, residual: Floats, sd_px: Floats, held: Floats
) -> WarpFit:
    inside = np.hypot(*residual.T) <= _INSIDE_SD * sd_px
    inner = np.append(np.repeat(inside, 2), True)
    sd = 0.0
    if inside.any():
        sd = _SD_PER_MAD * float(np.median(np.abs(residual[inside])))
    return WarpFit(
        warp=warp,
        covariance=np.linalg.pinv(held[inner].T @ held[inner]),
        residual_px=residual,
        inside=inside,
        sd_px=max(sd, LEAST_SD_PX),
        bend_sd_px=_shared(source[inside], residual[inside]),
    )


def _shared(source: Floats, residual: Floats) -> float:
    """Return how much of the residuals nearest neighbours share, one axis [px].

    With e a residual and e' its nearest neighbour's, the mean of e . e' / 2 is the
    variance of what varies slowly; what is each one's own averages out.
    """
    if len(source) < _LEAST_NEIGHBOURS:
        return 0.0
    _, nearest = cKDTree(source).query(source, k=2)
    product = (residual * residual[nearest[:, 1]]).sum(axis=1)
    return float(np.sqrt(max(float(product.mean()) / 2.0, 0.0)))
