"""Solve for station and camera from marks on known points.

Solves for station S and camera such that ``project_points(camera, S, P_i) = m_i``
in least squares, for the station's three coordinates and any of the camera's seven
parameters, from marks m_i on points P_i known on the ground. One answer at most:
the minimum below the given start. Two numbers come with each mark, so as many
unknowns as twice the marks at most. Nothing is normalised: pixels and metres.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import least_squares

from wherestood.camera.derivatives import (
    CAMERA_PARAMETERS,
    project_points_derivatives,
)
from wherestood.camera.model import Camera
from wherestood.earth.curvature import DEFAULT_REFRACTION, MEAN_RADIUS_M
from wherestood.errors import InputError

__all__ = ["Resection", "resect"]

Array = NDArray[np.float64]
Loss = Literal["linear", "soft_l1", "huber", "cauchy"]

ORIENTATION = ("bearing_rad", "tilt_rad", "roll_rad")
MOST_EVALUATIONS = 400
# A singular value this far below the largest is not told by the marks.
LEAST_SINGULAR_SHARE = 1e-10


@dataclass(frozen=True)
class Resection:
    """Hold the station and camera that marks on known points give.

    Attributes
    ----------
    camera : Camera
        With the freed parameters as solved.
    station_m : (3,) float64 array
        East, north, height of the lens [m].
    unknowns : tuple of str
        ``east_m, north_m, height_m`` and the camera's freed parameters: the order
        of ``covariance``.
    covariance : (n, n) float64 array
        From the marks' standard errors as given; multiply by ``unit_weight_sd``
        squared for that from the misfit. Infinite on the diagonal and NaN off it
        where the marks do not tell the unknowns apart.
    residual_px : (m, 2) float64 array
        Projected less marked, x and y [px].
    unit_weight_sd : float
        Root of the weighted squares over the degrees of freedom, near 1 where the
        standard errors are right; NaN without a degree of freedom.
    converged : bool
        Whether a minimum was reached; if not, the rest is the last try.
    """

    camera: Camera
    station_m: Array
    unknowns: tuple[str, ...]
    covariance: Array
    residual_px: Array
    unit_weight_sd: float
    converged: bool


def resect(
    start_camera: Camera,
    start_station_m: ArrayLike,
    points_m: ArrayLike,
    x_px: ArrayLike,
    y_px: ArrayLike,
    *,
    free: tuple[str, ...] = ORIENTATION,
    sd_px: ArrayLike = 1.0,
    refraction: float = DEFAULT_REFRACTION,
    radius_m: float = MEAN_RADIUS_M,
    loss: Loss = "linear",
) -> Resection:
    """Solve for the station and the freed camera parameters.

    Parameters
    ----------
    start_camera : Camera
        Where to start; what is not freed stays as it is.
    start_station_m : (3,) array_like of float
        East, north, height to start from [m].
    points_m : (m, 3) array_like of float
        East, north, height of the known points [m].
    x_px, y_px : (m,) array_like of float
        Their marks on the upright positive scan [px].
    free : tuple of str
        Names out of `CAMERA_PARAMETERS` to solve for besides the station.
    sd_px : float or (m,) array_like of float
        Standard error of each mark, in x and in y alike [px].
    refraction : float
        Refraction coefficient k, no unit.
    radius_m : float
        Mean radius of curvature [m]; infinite on a flat earth.
    loss : {"linear", "soft_l1", "huber", "cauchy"}
        How blunders count: all but ``"linear"`` hold them back beyond 1 sd.

    Raises
    ------
    InputError
        If a name is not a camera parameter, the marks and points do not match, are
        too few or are no numbers, or the start sees a point behind the camera.

    Notes
    -----
    Levenberg and Marquardt's steps in a trust region, with analytic derivatives.
    Straight up or down, bearing and roll turn about one axis: each has a great
    doubt there and the picture's turn about that axis a small one. A textbook's
    vertical photograph is solved from starts on the plumb to 10 deg off it
    (``tests/reference/test_against_vertical_air_resection.py``).

    References
    ----------
    Branch, Coleman and Li 1999, SIAM J. Sci. Comput. 21:1-23: the trust region.
    """
    points = np.asarray(points_m, dtype=np.float64)
    marks = np.stack(
        [np.asarray(x_px, dtype=np.float64), np.asarray(y_px, dtype=np.float64)], -1
    )
    sds = np.broadcast_to(np.asarray(sd_px, dtype=np.float64), marks.shape[:1])
    _check(points, marks, sds, free)
    columns = [CAMERA_PARAMETERS.index(name) for name in free]

    def at(values: Array) -> tuple[Array, Array]:
        """Return residuals over their sds, (2 m,), and their derivatives."""
        found = project_points_derivatives(
            _camera(start_camera, free, values),
            values[:3],
            points,
            refraction=refraction,
            radius_m=radius_m,
        )
        both = [found.by_direction, found.by_camera[..., columns]]
        residual = (found.pixels - marks) / sds[:, None]
        jacobian = np.concatenate(both, axis=-1) / sds[:, None, None]
        return residual.ravel(), jacobian.reshape(residual.size, -1)

    start = np.concatenate(
        [
            np.asarray(start_station_m, dtype=np.float64),
            [getattr(start_camera, name) for name in free],
        ]
    )
    _check_start(at(start)[0])
    values, converged = _climb_down(at, start, loss)
    return _result(start_camera, free, values, at(values), sds, converged)


def _camera(start: Camera, free: tuple[str, ...], values: Array) -> Camera:
    changes = {name: float(value) for name, value in zip(free, values[3:], strict=True)}
    return replace(start, **changes)  # type: ignore[arg-type]


def _climb_down(
    at: Callable[[Array], tuple[Array, Array]], start: Array, loss: Loss
) -> tuple[Array, bool]:
    # A trial step may put a point behind the camera: a misfit so great that the
    # step is refused, but a number, as the optimiser asks.
    far = 1e3 * (1.0 + np.abs(at(start)[0]).max())

    def residual(values: Array) -> Array:
        return np.nan_to_num(at(values)[0], nan=far)

    def jacobian(values: Array) -> Array:
        return np.nan_to_num(at(values)[1], nan=0.0)

    found = least_squares(
        residual,
        start,
        jac=jacobian,
        x_scale="jac",
        loss=loss,
        xtol=1e-13,
        ftol=1e-13,
        gtol=1e-13,
        max_nfev=MOST_EVALUATIONS,
    )
    return np.asarray(found.x), bool(found.status > 0)


def _result(
    start: Camera,
    free: tuple[str, ...],
    values: Array,
    there: tuple[Array, Array],
    sds: Array,
    converged: bool,
) -> Resection:
    residual, jacobian = there
    spare = residual.size - values.size
    return Resection(
        camera=_camera(start, free, values),
        station_m=values[:3],
        unknowns=("east_m", "north_m", "height_m", *free),
        covariance=_covariance(jacobian),
        residual_px=residual.reshape(-1, 2) * sds[:, None],
        unit_weight_sd=(
            math.sqrt(float(residual @ residual) / spare) if spare else math.nan
        ),
        converged=converged and bool(np.all(np.isfinite(residual))),
    )


def _covariance(jacobian: Array) -> Array:
    """Return the inverse of the normal matrix, from columns of length one."""
    size = jacobian.shape[1]
    lengths = np.linalg.norm(jacobian, axis=0)
    unknown = np.full((size, size), np.nan)
    np.fill_diagonal(unknown, np.inf)
    if not np.all(np.isfinite(lengths)) or np.any(lengths == 0.0):
        return unknown
    _, singular, turned = np.linalg.svd(jacobian / lengths, full_matrices=False)
    if singular[-1] < LEAST_SINGULAR_SHARE * singular[0]:
        return unknown
    root = turned.T / singular / lengths[:, None]
    covariance: Array = root @ root.T
    return covariance


def _check(points: Array, marks: Array, sds: Array, free: tuple[str, ...]) -> None:
    unknown = [name for name in free if name not in CAMERA_PARAMETERS]
    if unknown:
        raise InputError(
            f"The camera has no parameter {unknown[0]!r}.",
            f"Free some of: {', '.join(CAMERA_PARAMETERS)}.",
        )
    if points.shape != (len(marks), 3) or marks.ndim != 2:
        raise InputError(
            f"The marks, of shape {marks.shape}, and the points, of shape "
            f"{points.shape}, do not match.",
            "Give one point of three coordinates for each mark.",
        )
    if not (np.isfinite(points).all() and np.isfinite(marks).all()):
        raise InputError(
            "A mark or point is no finite number.", "Leave out what is not known."
        )
    if not np.all(sds > 0.0):
        raise InputError(
            f"The standard error of a mark must be above 0 px, not {sds.min():g} px.",
            "Give how well each mark was read.",
        )
    if marks.size < 3 + len(free):
        raise InputError(
            f"{len(marks)} marks give {marks.size} numbers, but {3 + len(free)} are "
            "unknown.",
            "Mark more points, or hold more of the camera.",
        )


def _check_start(residual: Array) -> None:
    lost = np.flatnonzero(np.isnan(residual.reshape(-1, 2)).any(axis=1))
    if lost.size:
        raise InputError(
            f"From the start the camera does not see point {lost[0] + 1} of "
            f"{residual.size // 2}.",
            "Start from a station and bearing that have all points before them.",
        )
