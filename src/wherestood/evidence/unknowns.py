"""Name the unknowns that a skyline's likelihood marginalises, in order."""

from __future__ import annotations

__all__ = [
    "CAMERA",
    "COUNT",
    "PROFILE",
    "UNKNOWNS",
    "UNKNOWN_M",
    "UNKNOWN_SD",
    "UNKNOWN_TANGENT",
]

#: Unknowns of one mode. The first ten move the ray of a sample; the others
#: shift its residual in proportion to a known column. Angles in radians, lengths
#: on the plate over the scan's diagonal, heights of cover in metres.
UNKNOWNS = (
    "bearing",
    "log_distance",
    "tilt",
    "roll",
    "rise",
    "cross",
    "radial",
    "vertical_scale",
    "warp_two",
    "warp_three",
    "cover",
    "cover_slope",
    "cover_bend",
    "refraction",
    "cell_east",
    "cell_north",
)
COUNT = len(UNKNOWNS)
CAMERA = 10

#: A noise distance [m] that stands for "no horizon is known there": the ray leaves
#: the elevation model before its highest ground is sure.
UNKNOWN_M = 1e12
#: Mean and sd of an unknown horizon's tangent: hills of some degrees, like any.
UNKNOWN_TANGENT = 0.05
UNKNOWN_SD = 0.1

#: Columns of a horizon profile: tangent, distance [m], distance that sets the
#: noise [m], and the tangent's change with the station's east and north [1/m].
PROFILE = ("tangent", "distance", "noise_distance", "gradient_east", "gradient_north")
