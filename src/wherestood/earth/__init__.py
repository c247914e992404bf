"""Hold frames, geodesics, datums, curvature with refraction."""

from wherestood.earth.curvature import (
    DEFAULT_REFRACTION,
    MEAN_RADIUS_M,
    curvature_radius_m,
    drop_m,
    sea_horizon_dip_rad,
    sea_horizon_distance_m,
)
from wherestood.earth.datum import DatumShift, find_datum_shift
from wherestood.earth.frame import Frame
from wherestood.earth.geodesy import distance_and_bearing, place_at

__all__ = [
    "DEFAULT_REFRACTION",
    "MEAN_RADIUS_M",
    "DatumShift",
    "Frame",
    "curvature_radius_m",
    "distance_and_bearing",
    "drop_m",
    "find_datum_shift",
    "place_at",
    "sea_horizon_dip_rad",
    "sea_horizon_distance_m",
]
