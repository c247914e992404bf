"""Work out what knowing one more thing would do to the ground that holds a station.

Symbols
-------
i : a likely camera, w_i its probability, P_i its covariance, its place in the cell
    included
y_i, G_i, R : what it expects to be read, how that goes with its unknowns, and the
    error of the reading

    S_i = G_i P_i G_i' + R
    P_i' = P_i - P_i G_i' S_i^-1 G_i P_i          whatever is read
    w_i' ~ w_i N(v; y_i, S_i)                     if v is read

v is drawn, some 50 times: a camera by its probability, then what is read from there.
The ground of each cell shrinks as the square root of the determinant of the place's own
covariance, and the cells that hold 90% are counted. No search is made again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, diags_array
from scipy.spatial import KDTree

from wherestood.fix.kept_ground import HELD, Weighing
from wherestood.fix.likely_cameras import LikelyCameras

__all__ = ["DRAWS", "Ground", "Reading", "after_choice", "after_each", "after_reading"]

Array = NDArray[np.float64]

DRAWS = 50


@dataclass(frozen=True)
class Reading:
    """Hold what likely cameras expect of one reading.

    Attributes
    ----------
    value : (cameras, k) float64 array
        What each expects; NaN for a camera from which it could not be read.
    gradient : (cameras, k, unknowns) float64 array
        How that goes with its unknowns.
    error : (cameras, k, k) float64 array
        Covariance of the reading itself.
    """

    value: Array
    gradient: Array
    error: Array


@dataclass(frozen=True)
class Ground:
    """Hold the ground that likely cameras stand on.

    Attributes
    ----------
    cameras : LikelyCameras
    area_m2 : (cells,) float64 array
        Ground that each cell of the weighing stands for [m2].
    averaging : (cells, cells) sparse array or None
        What averages densities over a shift of the model, as the answer's own are
        (`fix.posterior.smoothed_log_density`); None where there is none.
    """

    cameras: LikelyCameras
    area_m2: Array
    averaging: csr_array | None = None

    @classmethod
    def of(
        cls, cameras: LikelyCameras, weighing: Weighing, reach_m: float = 0.0
    ) -> Ground:
        """Return the ground of cameras.

        Parameters
        ----------
        reach_m : float
            Standard error of a shift of the whole model [m].
        """
        area = weighing.cells.side_m**2 * weighing.stands_for
        averaging = _averaging(weighing, reach_m) if reach_m > 0.0 else None
        return cls(cameras, area, averaging)

    def held_m2(self, weight: Array, shrunk: Array | None = None) -> float:
        """Return the smallest ground that holds 90% of the probability [m2].

        Parameters
        ----------
        weight : (cameras,) float64 array
            Probabilities.
        shrunk : (cameras,) float64 array, optional
            What share of its cell's ground is left of each.
        """
        area = self.area_m2
        row = self.cameras.cell
        mass = np.bincount(row, weight, len(area))
        if self.averaging is not None:
            mass = (self.averaging @ (mass / area)) * area
        elif shrunk is not None:
            # Cameras of one cell share its ground by their weights.
            left = np.bincount(row, weight * shrunk, len(area))
            area = area * left / np.maximum(mass, 1e-300)
        some = mass > 0.0
        mass, area = mass[some], np.maximum(area[some], 1e-9)
        order = np.argsort(-mass / area, kind="stable")
        running, covered = np.cumsum(mass[order]), np.cumsum(area[order])
        wanted = HELD * running[-1]
        last = int(np.searchsorted(running, wanted))
        over = (running[last] - wanted) / mass[order[last]]
        return float(covered[last] - over * area[order[last]])


def _averaging(weighing: Weighing, reach_m: float) -> csr_array:
    """Return what averages densities over near cells of the same size."""
    cells = weighing.cells
    count = len(cells.east_m)
    rows, columns, values = [np.arange(count)], [np.arange(count)], [np.ones(count)]
    for side in np.unique(cells.side_m):
        which = np.flatnonzero((cells.side_m == side) & (weighing.stands_for <= 1.0))
        if which.size < 2:
            continue
        points = np.column_stack((cells.east_m[which], cells.north_m[which]))
        reach = max(float(side), reach_m)
        pairs = KDTree(points).query_pairs(2.5 * reach, output_type="ndarray")
        away = np.hypot(*(points[pairs[:, 0]] - points[pairs[:, 1]]).T)
        share = np.exp(-0.5 * (away / reach) ** 2)
        for one, other in ((0, 1), (1, 0)):
            rows.append(which[pairs[:, one]])
            columns.append(which[pairs[:, other]])
            values.append(share)
    whole = csr_array(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))),
        shape=(count, count),
    )
    total = np.asarray(whole.sum(axis=1)).ravel()
    return csr_array(diags_array(1.0 / total) @ whole)


def after_reading(ground: Ground, reading: Reading, rng: np.random.Generator) -> float:
    """Return the ground that holds 90%, on average, once something is read [m2]."""
    cameras = ground.cameras
    total, shrunk = _spread(cameras, reading)
    able = np.isfinite(reading.value).all(axis=1)
    weight = np.where(able, cameras.weight, 0.0)
    if not weight.sum() > 0.0:
        return ground.held_m2(cameras.weight)
    weight = weight / weight.sum()
    root = np.linalg.cholesky(total)
    found = []
    for camera in rng.choice(cameras.count, DRAWS, p=weight):
        drawn = rng.normal(size=reading.value.shape[1])
        value = reading.value[camera] + root[camera] @ drawn
        found.append(
            ground.held_m2(_reweighed(weight, reading.value, value, total), shrunk)
        )
    return float(np.mean(found))


def after_each(
    ground: Ground,
    readings: list[tuple[int, Reading]],
    seen: Array,
) -> float:
    """Return the same where what is read hangs on the camera drawn.

    Parameters
    ----------
    readings : list of (int, Reading)
        The camera drawn, and what all others expect then.
    seen : (k,) float64 array
        What was read, the same each time: a mark that is there already.
    """
    found = []
    weight = ground.cameras.weight
    for _, reading in readings:
        total, shrunk = _spread(ground.cameras, reading)
        again = _reweighed(weight, reading.value, seen, total)
        found.append(ground.held_m2(again, shrunk))
    return float(np.mean(found))


def after_choice(ground: Ground, chance: Array, rng: np.random.Generator) -> float:
    """Return the same once it is known which of several something is.

    Parameters
    ----------
    chance : (cameras, choices) float64 array
        Probability of each from each camera; adds up to 1.
    """
    weight = ground.cameras.weight
    found = []
    for camera in rng.choice(ground.cameras.count, DRAWS, p=weight):
        which = rng.choice(chance.shape[1], p=chance[camera])
        again = weight * chance[:, which]
        found.append(ground.held_m2(again / again.sum()))
    return float(np.mean(found))


def _spread(cameras: LikelyCameras, reading: Reading) -> tuple[Array, Array]:
    """Return the covariance of what is read, and what share of each place is left."""
    gradient = np.nan_to_num(reading.gradient)
    covariance = cameras.covariance
    across = np.einsum("nkp,npq->nkq", gradient, covariance)
    total = np.einsum("nkp,nlp->nkl", across, gradient) + np.nan_to_num(reading.error)
    total = total + 1e-18 * np.eye(total.shape[1])
    gain = np.linalg.solve(total, across)
    here = covariance[:, -2:, -2:]
    less = here - np.einsum("nkp,nkq->npq", across[:, :, -2:], gain[:, :, -2:])
    before, after = np.linalg.det(here), np.linalg.det(less)
    left = np.sqrt(np.clip(after / np.maximum(before, 1e-300), 0.0, 1.0))
    return total, left


def _reweighed(weight: Array, expected: Array, value: Array, total: Array) -> Array:
    """Return probabilities of cameras once a value is read."""
    off = np.nan_to_num(expected - value, nan=1e6)
    square = np.einsum("nk,nk->n", off, np.linalg.solve(total, off[..., None])[..., 0])
    log = -0.5 * (square + np.linalg.slogdet(total)[1])
    with np.errstate(divide="ignore"):
        log = log + np.log(weight)
    again = np.exp(log - log.max())
    return np.asarray(again / again.sum())
