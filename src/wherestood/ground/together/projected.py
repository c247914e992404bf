"""Project things through plates, with derivatives by all that is unknown.

Symbols: d distance [m]; t tangent of the elevation at the lens.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.ground.cameras import PlateCameras
from wherestood.ground.together.plate_prior import UNKNOWNS, PlatePrior

__all__ = ["project_things", "seen_at"]

Array = NDArray[np.float64]
#: Half steps of central differences, in each unknown's own unit, and of things [m]:
#: small against any doubt, large against rounding.
_STEPS = np.array(
    [0.02, 0.02, 0.02, 2e-6, 2e-6, 2e-6, 2e-6, 0.02, 0.02, 1e-5, 1e-6, 0.02, 0.02]
)
_THING_STEP_M = 0.02
_COUNT = len(UNKNOWNS)


def seen_at(
    cameras: PlateCameras, places_m: Array, curvature_per_m: float
) -> tuple[Array, Array]:
    """Return where cameras show places.

    Parameters
    ----------
    cameras : PlateCameras
    places_m : (cameras, places, 3) float64 array
        East, north and height [m].
    curvature_per_m : float
        Drop over distance squared [1/m].

    Returns
    -------
    x_px, y_px : (cameras, places) float64 array
        NaN for what lies behind the camera [px].
    """
    draws = cameras.draws
    east = places_m[..., 0] - draws.east_m[:, None]
    north = places_m[..., 1] - draws.north_m[:, None]
    d = np.hypot(east, north)
    t = (places_m[..., 2] - draws.lens_m[:, None] - curvature_per_m * d**2) / d
    return cameras.pixels(np.arctan2(east, north), t)


def project_things(
    plate: PlatePrior, values: Array, places_m: Array, curvature_per_m: float
) -> tuple[Array, Array, Array]:
    """Return where a plate shows things, and the derivatives.

    Parameters
    ----------
    plate : PlatePrior
    values : (13,) float64 array
        The plate's unknowns.
    places_m : (things, 3) float64 array
        East, north and height [m].
    curvature_per_m : float
        Drop over distance squared [1/m].

    Returns
    -------
    at_px : (things, 2) float64 array
        NaN for what lies behind the camera [px].
    by_plate : (things, 2, 13) float64 array
    by_thing : (things, 2, 3) float64 array
        [px/m]

    Notes
    -----
    Central differences through the one camera model that there is, so that
    straightened plates and every movement have theirs; the tests hold them to their
    limits.
    """
    count = 1 + 2 * _COUNT + 6
    cameras = np.repeat(values[None], count, axis=0)
    places = np.repeat(places_m[None], count, axis=0)
    for one in range(_COUNT):
        cameras[1 + 2 * one, one] += _STEPS[one]
        cameras[2 + 2 * one, one] -= _STEPS[one]
    for axis in range(3):
        row = 1 + 2 * _COUNT + 2 * axis
        places[row, :, axis] += _THING_STEP_M
        places[row + 1, :, axis] -= _THING_STEP_M
    x, y = seen_at(plate.cameras(cameras), places, curvature_per_m)
    both = np.stack((x, y), axis=-1)
    plus, minus = both[1::2], both[2::2]
    steps = np.append(_STEPS, np.full(3, _THING_STEP_M))
    slopes = np.moveaxis((plus - minus) / (2.0 * steps[:, None, None]), 0, -1)
    return both[0], slopes[..., :_COUNT], slopes[..., _COUNT:]
