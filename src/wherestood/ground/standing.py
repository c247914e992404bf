"""Let the one camera that stands for all stand on its own ground.

A fix knows the height of a lens to some metres, and so does the elevation model that of
the ground under it: the likeliest camera may lie under the model, or high over it. The
tripod stood on the ground. So the model is bent to it there, and less and less farther
off, as its errors hang together.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wherestood.ground.central import central_camera
from wherestood.ground.mapping import Mapping
from wherestood.terrain.ground import height_m
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import SolidGround

__all__ = ["central_standing", "standing_on_ground"]

#: Farther than so many reaches of the model's errors nothing is bent: e^-6.
_REACHES = 6.0


def central_standing(mapping: Mapping) -> Mapping:
    """Return the camera most in the middle of all, alone, on its own ground."""
    which = np.array([central_camera(mapping)])
    return standing_on_ground(mapping.at_cameras(which))


def standing_on_ground(mapping: Mapping) -> Mapping:
    """Return one camera's mapping with the model bent to the ground it stands on.

    Parameters
    ----------
    mapping : Mapping
        Of one camera.

    Returns
    -------
    Mapping
        The same where the ground under the camera is not known.

    Notes
    -----
    It is what `Mapping.ground_off_m` draws, in the middle: near the camera the error
    under it, falling off by the reach of the model's errors. How much of what lens and
    model differ by is the model's goes by their variances.
    """
    draws, terrain = mapping.cameras.draws, mapping.ground.model.terrain
    at = draws.east_m[:1], draws.north_m[:1]
    ground_m = float(height_m(terrain, *at)[0])
    under_m = float(draws.lens_m[0]) - ground_m - mapping.lens_height_m
    # On a roof the lens may as well stand higher than usual: each has its share.
    own2, lens2 = mapping.doubts.terrain_sd_m**2, mapping.lens_height_sd_m**2
    under_m *= own2 / (own2 + lens2) if own2 > 0.0 else 0.0
    if not np.isfinite(under_m):
        return mapping
    reach_m = mapping.doubts.correlated_m
    rows, columns = terrain.elevation_m.shape
    sides = []
    for here, first, count in (
        (float(at[1][0]), terrain.south_m, rows),
        (float(at[0][0]), terrain.west_m, columns),
    ):
        away = (np.arange(count) * terrain.cell_m) + first - here
        near = np.flatnonzero(np.abs(away) <= _REACHES * reach_m)
        sides.append((slice(int(near[0]), int(near[-1]) + 1), away[near]))
    (row, north), (column, east) = sides
    bent = terrain.elevation_m.copy()
    distance = np.hypot(north[:, None], east[None, :])
    bent[row, column] += (under_m * np.exp(-distance / reach_m)).astype(np.float32)
    model = HorizonModel.of(
        replace(terrain, elevation_m=bent), mapping.ground.model.radius_m
    )
    return replace(mapping, ground=SolidGround.of(model))
