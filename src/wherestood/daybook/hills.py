"""Find the hills that a plate's daybook knows of, as they stand against the sun."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import cast

import numpy as np
from numpy.typing import NDArray

from wherestood.dating.sun_fit import Horizon
from wherestood.daybook.book import Daybook
from wherestood.daybook.question import layers_of
from wherestood.earth.curvature import curvature_radius_m
from wherestood.errors import TerrainError
from wherestood.fix.settings import LocateSettings
from wherestood.ground.place import stand
from wherestood.progress import SILENT, Progress
from wherestood.terrain.ground import StandingGround, standing_ground
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Surface
from wherestood.terrain.read import open_terrain

__all__ = ["Hills", "hills_at", "hills_of_book"]

Array = NDArray[np.float64]
#: Gives the horizon at longitude and latitude [deg] and a lens's height [m]; None
#: where there is no terrain.
Hills = Callable[[float, float, float], Horizon | None]
BEARINGS = 720


def hills_at(
    model: HorizonModel,
    standing: StandingGround,
    lon_deg: float,
    lat_deg: float,
    lens_m: float | None = None,
) -> Horizon:
    """Return the elevation of the hills as seen from a place, over true bearing.

    Parameters
    ----------
    model, standing
        The terrain, made ready.
    lon_deg, lat_deg : float
        Where [deg].
    lens_m : float, optional
        Height of the eye [m]; a tripod's unless told.

    Returns
    -------
    callable
        From true bearings [rad] to elevations [rad], NaN where no ground is known.

    Raises
    ------
    TerrainError
        If the ground there is not known.
    """
    frame = model.terrain.frame
    east, north = frame.from_lonlat(np.array([lon_deg]), np.array([lat_deg]))
    place = stand(model, standing, float(east[0]), float(north[0]), lens_m=lens_m)
    bearing: Array = np.arange(BEARINGS, dtype=np.float64) * (2.0 * math.pi / BEARINGS)
    turned: Array = np.asarray(bearing - math.radians(place.turn_deg), np.float64)
    tangent, _ = place.horizon(turned)
    elevation = np.arctan(tangent)

    def horizon(wanted: Array) -> Array:
        # A bearing between one that is known and one that is not is not known.
        return np.interp(wanted, bearing, elevation, period=2.0 * math.pi)

    return horizon


def hills_of_book(book: Daybook, progress: Progress = SILENT) -> Hills:
    """Return what gives horizons over the daybook's own terrain, opened as needed."""

    def hills(lon_deg: float, lat_deg: float, lens_m: float) -> Horizon | None:
        with book.reading() as session:
            paths, surface = layers_of(book, session)
        if not paths:
            return None
        progress.stage("Opening the terrain for its hills")
        terrain = open_terrain(
            paths,
            around=(lon_deg, lat_deg),
            radius_m=LocateSettings.horizon_radius_m,
            surface=cast(Surface, surface),
            refraction=LocateSettings.refraction,
        )
        model = HorizonModel.of(terrain, curvature_radius_m(lat_deg))
        try:
            return hills_at(model, standing_ground(terrain), lon_deg, lat_deg, lens_m)
        except TerrainError:
            return None

    return hills
