"""Make the ground of a search ready: refined, smoothed, as it then was."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wherestood.earth.curvature import curvature_radius_m
from wherestood.errors import TerrainError
from wherestood.evidence.items import Evidence
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.profile import ProfileMaker
from wherestood.fix.area import Area
from wherestood.fix.ground_then import GroundThen, as_ground, ground_then
from wherestood.fix.settings import LocateSettings
from wherestood.terrain.ground import standing_ground
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain
from wherestood.terrain.refine import refined

__all__ = ["FINE_ENOUGH_M", "GROUND_SMOOTHING_M", "REFINE_TO_M", "ready_ground"]

#: Coarser models than this are refined by cubic interpolation before the search:
#: the facets of a coarse bilinear surface look like crests that are not there [m].
FINE_ENOUGH_M = 40.0
REFINE_TO_M = 25.0
#: Sd of the smoothing that gives the ground under a station [m], or one cell.
GROUND_SMOOTHING_M = 60.0


def ready_ground(
    terrain: Terrain,
    area: Area,
    settings: LocateSettings,
    known: Evidence,
    noise: SkylineNoise,
    window_rad: float,
) -> tuple[ProfileMaker, GroundThen | None]:
    """Make the terrain, as it was, ready for horizons.

    Parameters
    ----------
    noise : SkylineNoise
    window_rad : float
        Angle that horizons are averaged over.

    Raises
    ------
    TerrainError
        If no height is known inside the ground searched.
    """
    used = refined(terrain, REFINE_TO_M) if terrain.cell_m > FINE_ENOUGH_M else terrain
    _check_ground(used, area)
    then = ground_then(known, used, noise, settings)
    standing, doubt = used, None
    if then is not None and then.ground is not None:
        used, standing = then.ground.terrain, then.ground.standing
        doubt = as_ground(replace(used, elevation_m=then.ground.doubt_m))
    height = settings.lens_height
    smoothing_m = max(terrain.cell_m, GROUND_SMOOTHING_M)
    radius_m = float(curvature_radius_m(area.centre[1]))
    maker = ProfileMaker(
        HorizonModel.of(used, radius_m),
        standing_ground(standing, smoothing_m),
        as_ground(standing),
        height.mean_m,
        window_rad,
        farthest_m=settings.horizon_radius_m,
        over_water=height.over == "water",
        lens_height_sd_m=height.sd_m,
        doubt=doubt,
    )
    return maker, then


def _check_ground(terrain: Terrain, area: Area) -> None:
    """Refuse a search where nothing is known of the ground."""
    west, south, east, north = area.in_frame(terrain.frame).bounds
    rows, columns = terrain.elevation_m.shape
    first = max(0, int((west - terrain.west_m) / terrain.cell_m))
    last = min(columns, int((east - terrain.west_m) / terrain.cell_m) + 2)
    low = max(0, int((south - terrain.south_m) / terrain.cell_m))
    high = min(rows, int((north - terrain.south_m) / terrain.cell_m) + 2)
    part = terrain.elevation_m[low:high, first:last]
    if part.size == 0 or not np.isfinite(part).any():
        raise TerrainError(
            "No height is known anywhere in the ground searched.",
            "Give an elevation model that covers it, or another area.",
        )
