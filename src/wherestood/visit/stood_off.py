"""Find where a photograph was made, from things that show on it and on the plate.

Solves for place, direction, roll and lens of the photograph's camera (`UNKNOWNS`), from
pairs of points and how far the plate's are, by least squares weighed with the full
covariance of what the fix leaves open; one answer at most.

Symbols: r what a pair is off [px]; J how that goes with the unknowns; S its covariance:
cameras and terrain of the fix, which all pairs share, the distance's own error along
the line on which a thing moves as it comes nearer, and the reading.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

from wherestood.errors import InputError
from wherestood.visit.depths import UNTOLD_SD, Depths
from wherestood.visit.photo_camera import UNKNOWNS, PhotoCamera

__all__ = ["LENS_M", "LENS_SD_M", "Expected", "StoodOff", "solve_photo_camera"]

Array = NDArray[np.float64]
_ROUNDS, _BEFORE_LOOSE = 20, 9
#: The scatter is told by the best of the pairs, as if all were right: wrong ones make
#: it larger, never smaller.
_BEST_SHARE = 0.2
#: Beyond so many standard errors a pair begins to count less, and counts as changed.
_SOFT, _CHANGED = 2.0, 4.0
#: From so many standard errors nearer than the ground a thing begins to count for less.
_NEARER = 1.5
#: Ground so near is the tripod's own [m].
_NEAR_M = 45.0
#: A thing this many standard errors nearer than the ground stands before it.
_STANDING = 3.0
_LEAST_READING_PX, _FEWEST = 0.3, 4
#: What cameras of a fix and the ground before them have unknown together, about.
_SHARED_UNKNOWNS = 40
UNEVEN_SLOPE = 0.05
#: A camera held before the eye, or on a tripod: common practice [m].
LENS_M, LENS_SD_M = 1.5, 0.25
_STEPS = np.array([1e-3, 1e-3, 1e-3, *[1e-6] * 7])


@dataclass(frozen=True)
class Expected:
    """Say what is known of the photograph's camera beforehand.

    Attributes
    ----------
    mean, sd : (10,) float64 array
        In the order of `UNKNOWNS`.
    lens_m, lens_sd_m : float
        Of its lens above the ground under it [m]: with that of the plate's it tells the
        scale of all that is near.
    """

    mean: Array
    sd: Array
    lens_m: float = LENS_M
    lens_sd_m: float = LENS_SD_M


@dataclass(frozen=True)
class StoodOff:
    """Hold where a photograph was made.

    Attributes
    ----------
    camera : PhotoCamera
    covariance : (10, 10) float64 array
        Of its values.
    off_px : (n, 2) float64 array
        What each pair is off where the distance stays as it was told [px].
    left_px : (n,) float64 array
        What is left of that once the thing may be nearer or farther [px].
    inside : (n,) bool array
        Pairs that the camera explains; others changed, or were never one thing.
    standing : (n,) bool array
        Things that stand before the ground told behind them.
    reading_px : float
        Scatter of a pair, one axis [px].
    """

    camera: PhotoCamera
    covariance: Array
    off_px: Array
    left_px: Array
    inside: NDArray[np.bool_]
    standing: NDArray[np.bool_]
    reading_px: float


def solve_photo_camera(
    depths: Depths,
    photo_px: Array,
    reading_px: Array,
    camera: PhotoCamera,
    expected: Expected,
    *,
    sure: NDArray[np.bool_] | None = None,
) -> StoodOff:
    """Return where the photograph was made.

    Parameters
    ----------
    depths : Depths
        Of the plate's points.
    photo_px : (n, 2) float64 array
        Where they show on the photograph [px].
    reading_px : (n,) float64 array
        Standard error of each pair beforehand [px].
    camera : PhotoCamera
        Where to begin.
    expected : Expected
    sure : (n,) bool array, optional
        Pairs marked by hand, whose distance is never doubted for standing before the
        ground.

    Notes
    -----
    A pair that is off along its line of nearness alone is taken for a thing that stands
    before the ground: then its distance is not used, and only the other way counts.
    """
    n = len(photo_px)
    middle = _middle(depths)
    by_hand = np.zeros(n, dtype=bool) if sure is None else sure
    told_by_ground = depths.on_ground | by_hand
    first = told_by_ground & ((1.0 / np.maximum(middle[1], 1e-6) < _NEAR_M) | by_hand)
    loose = np.ones(n)
    weight = np.ones(n)
    scale = 0.0  # not known yet
    theta = camera.values.copy()
    for turn in range(_ROUNDS):
        # First by the ground about the tripod and what is marked: woods and houses may
        # stand before any other. Then by all that agrees with it.
        begin = first if turn < _BEFORE_LOOSE else told_by_ground
        own = np.where(begin, depths.own_sd * loose, UNTOLD_SD)
        own = np.minimum(own, UNTOLD_SD)
        now = replace(camera, values=theta)
        told, slope, nearness, shared = _linear(now, depths, middle, own)
        r = photo_px - told
        seen: NDArray[np.bool_] = np.asarray(np.isfinite(r).all(axis=1), dtype=bool)
        seen = seen & np.isfinite(slope).all(axis=(1, 2))
        seen = seen & np.isfinite(shared).all(axis=(0, 2))
        if seen.sum() < _FEWEST:
            raise InputError(
                f"Only {int(seen.sum())} things on both pictures lie before both "
                "cameras: nothing can be told of them.",
                "Is it this view? Mark things on both by hand, near and far.",
            )
        r = np.where(seen[:, None], r, 0.0)
        slope = np.where(seen[:, None, None], slope, 0.0)
        shared = np.where(seen[:, None], shared, 0.0)
        nearness = np.where(seen[:, None], nearness, 0.0)
        if turn == 0:
            scale = _scatter(r, reading_px, seen)
        reading = np.maximum(scale * reading_px, _LEAST_READING_PX)
        noise = reading**2 / np.maximum(weight * seen, 1e-6)
        height = _Height.of(depths, expected, theta)
        solved = _solve(r, slope, nearness, shared, noise, theta, expected, height)
        step, covariance, error, moved = solved
        theta = theta + np.clip(step, -_LARGEST, _LARGEST)
        theta = np.clip(theta, -_FARTHEST, _FARTHEST)
        size = np.hypot(*error.T) / reading
        # A distance that proves wrong counts for less, as a reading does.
        wrong = moved * own / depths.own_sd
        if turn >= _BEFORE_LOOSE - 1:
            nearer, farther = np.maximum(wrong, 0.0), np.maximum(-wrong, 0.0)
            # Much stands before the ground; little behind it.
            loose = np.sqrt(1.0 + (nearer / _NEARER) ** 4 + (farther / _SOFT) ** 2)
            loose = np.where(by_hand, 1.0, loose)
        weight = np.where(seen, 1.0 / (1.0 + (size / _SOFT) ** 2) ** 2, 0.0)
        # From coarse to fine: what agrees stands out little by little.
        left = _scatter(error, reading_px, seen)
        scale = max(left, scale / 3.0, 0.3) if turn < _BEFORE_LOOSE else max(left, 0.3)
        if turn > _BEFORE_LOOSE + 3 and np.all(np.abs(step) < 1e-4):
            break
    size = np.hypot(*error.T) / np.maximum(scale * reading_px, _LEAST_READING_PX)
    standing = ~told_by_ground | (wrong > _STANDING)
    reading_sd = scale * float(np.median(reading_px))
    return StoodOff(
        replace(camera, values=theta), covariance, r, np.hypot(*error.T),
        seen & (size < _CHANGED), standing, reading_sd,
    )  # fmt: skip


_FARTHEST = np.array([60.0, 60.0, 20.0, 3.0, 1.2, 1.0, 2.0, 0.2, 0.2, 0.2])
_LARGEST = np.array([3.0, 3.0, 3.0, 0.2, 0.2, 0.2, 0.2, 0.05, 0.05, 0.05])


def _middle(depths: Depths) -> tuple[Array, Array]:
    """Return directions and inverse distances in the middle of all cameras."""
    return depths.directions.mean(axis=0), np.median(depths.inverse_m, axis=0)


def _linear(
    camera: PhotoCamera, depths: Depths, middle: tuple[Array, Array], own: Array
) -> tuple[Array, Array, Array, Array]:
    """Return where pairs should show, and how that goes with everything unknown.

    Returns
    -------
    told : (n, 2); slope : (n, 2, 10); nearness : (n, 2)
        With a logarithm of the distance's own standard error.
    shared : (cameras, n, 2)
        What each camera of the fix would have otherwise.
    """
    v, w = middle
    told = camera.pixels(v, w)
    slope = np.empty((*told.shape, len(UNKNOWNS)))
    for k, step in enumerate(_STEPS):
        values = camera.values.copy()
        values[k] += step
        slope[..., k] = (replace(camera, values=values).pixels(v, w) - told) / step
    # A nearer thing, by a tenth of its error: the line bends for what is very near.
    share = 0.1 * own
    # Of what is met by no ground, nearness of any amount is possible: 1/200 m.
    base = np.where(w > 0, w, 1.0 / 200.0)
    near = (camera.pixels(v, w + share * base) - told) / 0.1
    away = camera.pixels(depths.directions, depths.inverse_m)
    shared = away - away.mean(axis=0)
    return told, slope, np.nan_to_num(near), shared


def _scatter(off: Array, reading_px: Array, seen: NDArray[np.bool_]) -> float:
    """Return the scatter of the pairs that agree best, over their reading's."""
    size = np.sort(np.hypot(*off[seen].T) / reading_px[seen])
    # So much of a plane's scatter, one axis a unit, lies within the share's radius.
    radius = np.sqrt(-2.0 * np.log(1.0 - _BEST_SHARE))
    found = float(np.quantile(size, _BEST_SHARE)) / float(radius)
    degrees = max(2 * size.size - len(UNKNOWNS), 1)
    return found * float(np.sqrt(2.0 * size.size / degrees))


@dataclass(frozen=True)
class _Height:
    """Hold what the lens's height above its own ground tells.

    It is the plate's lens's above its own, raised by how far up it stands and lowered
    by how far the ground rises on the way there.
    """

    off_m: float
    slope: Array
    shared_m: Array
    variance_m2: float

    @classmethod
    def of(cls, depths: Depths, expected: Expected, theta: Array) -> _Height:
        """Return it about a place."""
        told = depths.lens_m + theta[2] - depths.slope @ theta[:2]
        slope = np.zeros(len(UNKNOWNS))
        slope[:2], slope[2] = -depths.slope.mean(axis=0), 1.0
        middle = float(told.mean())
        # Ground is uneven from one footing to the next.
        variance = expected.lens_sd_m**2 + (UNEVEN_SLOPE * np.hypot(*theta[:2])) ** 2
        return cls(expected.lens_m - middle, slope, told - middle, float(variance))


def _solve(
    r: Array,
    slope: Array,
    nearness: Array,
    shared: Array,
    noise: Array,
    theta: Array,
    expected: Expected,
    height: _Height,
) -> tuple[Array, Array, Array, Array]:
    """Return a step, its covariance, errors of reading and of nearness (in own sd)."""
    n = len(r)
    cameras = len(shared)
    # A covariance of so many unknowns, told by no more cameras, looks too sure
    # (Hartlap, Simon and Schneider 2007, Astronomy and Astrophysics 464, 399-404).
    few = np.sqrt(max(cameras - _SHARED_UNKNOWNS, 1))
    root = np.vstack((shared.reshape(cameras, 2 * n).T, height.shared_m)) / few
    local = np.zeros((n, 2, 2))
    local[:, 0, 0] = local[:, 1, 1] = noise
    local += nearness[:, :, None] * nearness[:, None, :]
    inverse = np.linalg.inv(local)

    def by_local(columns: Array) -> Array:
        pairs = np.einsum("nij,njk->nik", inverse, columns[:-1].reshape(n, 2, -1))
        return np.vstack((pairs.reshape(2 * n, -1), columns[-1:] / height.variance_m2))

    j = np.vstack((slope.reshape(2 * n, -1), height.slope))
    flat = np.append(r.ravel(), height.off_m)[:, None]
    li_root, li_j, li_r = by_local(root), by_local(j), by_local(flat)
    inner = linalg.cho_factor(np.eye(cameras) + root.T @ li_root)

    def weighed(left: Array, li_right: Array) -> Array:
        taken = (left.T @ li_root) @ linalg.cho_solve(inner, root.T @ li_right)
        return np.asarray(left.T @ li_right - taken)

    prior = np.diag(1.0 / expected.sd**2)
    precision = weighed(j, li_j) + prior
    pull = weighed(j, li_r)[:, 0] + prior @ (expected.mean - theta)
    covariance = np.asarray(np.linalg.inv(precision), dtype=np.float64)
    step = covariance @ pull
    rest = flat - j @ step[:, None]
    li_rest = by_local(rest)
    share = li_rest - li_root @ linalg.cho_solve(inner, root.T @ li_rest)
    share = share[:-1].reshape(n, 2)
    error = noise[:, None] * share
    moved = (nearness * share).sum(axis=1)
    return np.asarray(step), covariance, np.asarray(error), np.asarray(moved)
