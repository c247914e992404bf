"""Hold elevation models: opening them, the ground, the horizon."""

from wherestood.terrain.ground import (
    StandingGround,
    height_m,
    smoothed_ground_m,
    standing_ground,
)
from wherestood.terrain.model import SourceRecord, Surface, Terrain
from wherestood.terrain.progress import IntakeProgress
from wherestood.terrain.read import open_terrain

__all__ = [
    "IntakeProgress",
    "SourceRecord",
    "StandingGround",
    "Surface",
    "Terrain",
    "height_m",
    "open_terrain",
    "smoothed_ground_m",
    "standing_ground",
]
