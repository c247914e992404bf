"""Hold elevation models: opening them, the ground, the horizon."""

from wherestood.terrain.ground import (
    StandingGround,
    height_m,
    smoothed_ground_m,
    standing_ground,
)
from wherestood.terrain.horizon import HorizonModel, Horizons, nearest_start_m
from wherestood.terrain.model import SourceRecord, Surface, Terrain
from wherestood.terrain.read import open_terrain
from wherestood.terrain.ridges import Ridges, ridge_lines

__all__ = [
    "HorizonModel",
    "Horizons",
    "Ridges",
    "SourceRecord",
    "StandingGround",
    "Surface",
    "Terrain",
    "height_m",
    "nearest_start_m",
    "open_terrain",
    "ridge_lines",
    "smoothed_ground_m",
    "standing_ground",
]
