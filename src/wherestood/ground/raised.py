"""Follow rays to ground that may lie higher or lower than its model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wherestood.ground.mapping import Mapping
from wherestood.terrain.meet import GROUND, NEAR, Meetings, meet_ground, nearest_told_m

__all__ = ["meet_as_modelled", "meet_raised"]

Array = NDArray[np.float64]
#: Errors of the model so many reaches apart have nothing to do with one another: e^-2.
_REACHES = 2.0
#: What lies nearer than this share of a ray's way is not the ground that was raised.
_SHARE = 0.5


def meet_as_modelled(mapping: Mapping, bearing_rad: Array, tangent: Array) -> Meetings:
    """Return where each camera's rays first meet the ground as the model has it.

    Parameters
    ----------
    mapping : Mapping
        Cameras and terrain.
    bearing_rad, tangent : (cameras, points) float64 array
        Grid bearing [rad], and tangent of elevation.
    """
    return _meet(mapping, 0.0, bearing_rad, tangent, None)


def meet_raised(
    mapping: Mapping,
    bearing_rad: Array,
    tangent: Array,
    first: Meetings,
    raised_m: Array,
) -> Meetings:
    """Return where rays meet ground raised by an error of its model.

    Parameters
    ----------
    mapping : Mapping
        Cameras, terrain and how far the model's errors hang together.
    bearing_rad, tangent : (cameras, points) float64 array
        Grid bearing [rad], and tangent of elevation.
    first : Meetings
        Of the same rays with the ground as it is modelled.
    raised_m : float64 array
        How much higher the ground is there; broadcasts to the rays [m].

    Notes
    -----
    The whole ground is raised by what it is raised where the ray ends. Far off that
    says nothing of the ground before the tripod, which would else swallow a lens that
    stands on it: a ray which goes clear of the model, to ground more than two reaches
    of its errors away, is then followed from beyond the ground that stopped it, up to
    half of its way.
    """
    raised_m = np.broadcast_to(raised_m, bearing_rad.shape)
    met = _meet(mapping, raised_m, bearing_rad, tangent, None)
    with np.errstate(invalid="ignore"):
        far = first.distance_m > _REACHES * mapping.doubts.correlated_m
    clear = (first.what == GROUND) & far
    terrain = mapping.ground.model.terrain
    nearest_m = nearest_told_m(terrain.source_cell_m or terrain.cell_m)
    while (again := clear & (met.what == NEAR)).any():
        nearest_m *= 2.0
        clear = clear & (nearest_m <= _SHARE * np.nan_to_num(first.distance_m))
        again &= clear
        camera, _ = np.nonzero(again)
        asked = mapping.at_cameras(camera)
        column = bearing_rad[again][:, None], tangent[again][:, None]
        found = _meet(asked, raised_m[again][:, None], *column, nearest_m)
        for name in ("what", "distance_m", "grazing_rad"):
            values = getattr(met, name).copy()
            values[again] = getattr(found, name)[:, 0]
            met = replace(met, **{name: values})
    return met


def _meet(
    mapping: Mapping,
    raised_m: Array | float,
    bearing_rad: Array,
    tangent: Array,
    nearest_m: float | None,
) -> Meetings:
    draws = mapping.cameras.draws
    return meet_ground(
        mapping.ground,
        draws.east_m[:, None],
        draws.north_m[:, None],
        draws.lens_m[:, None] - raised_m,
        bearing_rad,
        tangent,
        nearest_m=nearest_m,
        farthest_m=mapping.doubts.farthest_m,
    )
