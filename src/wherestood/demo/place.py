"""Hold Vellin Water, a place that does not exist.

Everything here is *invented*: the land, its names, its people, its history. The
coordinates lie in open ocean, where there is no land at all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyproj
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.demo.canopy import ForestSettings
from wherestood.demo.ground import GroundGrid
from wherestood.demo.hills import invented_ground
from wherestood.demo.settings import WorldSettings

__all__ = [
    "CRS",
    "PLACE_NAME",
    "NamedHill",
    "Stage",
    "build_stage",
    "named_hills",
    "world_settings",
]

PLACE_NAME = "Vellin Water"
CRS = "EPSG:32710"  # UTM 10 south: the middle of the South Pacific

_CENTRE_EAST_M, _CENTRE_NORTH_M = 512000.0, 4583000.0
_SEED = 16
_NODES, _CELL_M = 264, 60.0
_HILL_NAMES = ("Great Wessen", "Tolver Head", "The Quern", "Brask Hill", "Lady Hollin")
_HILLS_APART_M = 1800.0


@dataclass(frozen=True)
class Stage:
    """Hold the invented land and its tie to map coordinates.

    Attributes
    ----------
    ground : GroundGrid
        The land in ground metres about the middle.
    scale : float
        Map metres to a ground metre at the middle.
    convergence_deg : float
        Grid convergence at the middle: add to a grid bearing for a true one.
    """

    ground: GroundGrid
    scale: float
    convergence_deg: float

    def to_map(self, east_m: float, north_m: float) -> tuple[float, float]:
        """Return map east and north of a point in ground metres [m]."""
        return (
            _CENTRE_EAST_M + east_m * self.scale,
            _CENTRE_NORTH_M + north_m * self.scale,
        )

    def to_lonlat(self, east_m: float, north_m: float) -> tuple[float, float]:
        """Return WGS 84 longitude and latitude of a point in ground metres."""
        transformer = pyproj.Transformer.from_crs(CRS, 4326, always_xy=True)
        lon, lat = transformer.transform(*self.to_map(east_m, north_m))
        return float(lon), float(lat)


@dataclass(frozen=True)
class NamedHill:
    """Hold an invented hill: name, place in ground metres, height [m]."""

    name: str
    east_m: float
    north_m: float
    height_m: float


def build_stage() -> Stage:
    """Make the invented land: the same every time."""
    transformer = pyproj.Transformer.from_crs(CRS, 4326, always_xy=True)
    lon, lat = transformer.transform(_CENTRE_EAST_M, _CENTRE_NORTH_M)
    factors = pyproj.Proj(CRS).get_factors(lon, lat)
    land = invented_ground(_SEED, nodes=_NODES, cell_m=_CELL_M, water_share=0.1)
    ground = GroundGrid(
        land.elevation_m,
        land.west_m,
        land.south_m,
        land.cell_m,
        float(lat),
        float(lon),
        PLACE_NAME,
        land.water_level_m,
    )
    return Stage(
        ground, float(factors.meridional_scale), float(factors.meridian_convergence)
    )


def world_settings() -> WorldSettings:
    """Return how the true world of the place is made."""
    forest = ForestSettings(
        cover=0.45,
        patch_m=700.0,
        height_m=13.0,
        height_sd_m=2.5,
        stand_m=350.0,
        rough_sd_m=1.6,
        tree_line_m=430.0,
        clearings_per_km2=1.5,
    )
    return WorldSettings(mesh_cell_m=15.0, detail_m=2.0, forest=forest)


def named_hills(ground: GroundGrid) -> list[NamedHill]:
    """Give the highest summits their names, the highest first."""
    reach = int(_HILLS_APART_M / ground.cell_m)
    height_m: NDArray[np.float32] = ground.elevation_m
    highest_m = ndimage.maximum_filter(height_m, 2 * reach + 1)
    rows, columns = np.nonzero(height_m == highest_m)
    order = np.argsort(-height_m[rows, columns])[: len(_HILL_NAMES)]
    return [
        NamedHill(
            name,
            ground.west_m + float(columns[place]) * ground.cell_m,
            ground.south_m + float(rows[place]) * ground.cell_m,
            float(height_m[rows[place], columns[place]]),
        )
        for name, place in zip(_HILL_NAMES, order, strict=True)
    ]
