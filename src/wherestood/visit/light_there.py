"""Say when light like a plate's comes to its spot, hills and all."""

from __future__ import annotations

import math
from datetime import date

import numpy as np

from wherestood.ground.mapping import Mapping
from wherestood.terrain.ground import height_m
from wherestood.terrain.horizon import nearest_start_m
from wherestood.visit.like_light import light_sentences

__all__ = ["light_there"]


def light_there(
    mapping: Mapping,
    at_m: tuple[float, float],
    lonlat_deg: tuple[float, float],
    sun_deg: tuple[float, float],
    day: date,
) -> tuple[str, ...]:
    """Return in sentences when the sun stands so again, and what hills do to it.

    Parameters
    ----------
    mapping : Mapping
        Its terrain.
    at_m, lonlat_deg : (float, float)
        The spot, east and north in the frame [m] and WGS 84 [deg].
    sun_deg : (bearing, elevation)
        Where the sun stood, true [deg].
    day : date
        From when on.
    """
    model = mapping.ground.model
    turn_deg = model.terrain.frame.convergence_deg(*lonlat_deg)
    east, north = np.array([at_m[0]]), np.array([at_m[1]])
    lens = height_m(model.terrain, east, north).astype(np.float64)
    found = model.horizons(
        east, north, lens + mapping.lens_height_m,
        np.array([math.radians(sun_deg[0] - turn_deg) % (2.0 * math.pi)]),
        nearest_m=nearest_start_m(model.terrain.source_cell_m),
        farthest_m=mapping.doubts.farthest_m,
    )  # fmt: skip
    high = math.degrees(math.atan(float(found.tangent[0, 0])))
    known = high if math.isfinite(high) else None
    return tuple(light_sentences(*sun_deg, *lonlat_deg, day, known))
