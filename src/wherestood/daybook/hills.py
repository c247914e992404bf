"""Find the hills that a plate's daybook knows of, as they stand against the sun."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol, cast

import numpy as np
from numpy.typing import NDArray

from wherestood.dating.sun_path import Horizon
from wherestood.daybook.book import Daybook
from wherestood.daybook.question import layers_of
from wherestood.earth.curvature import curvature_radius_m
from wherestood.errors import TerrainError
from wherestood.fix.settings import LocateSettings
from wherestood.ground.place import Place, stand
from wherestood.progress import SILENT, Progress
from wherestood.terrain.ground import StandingGround, standing_ground
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import SolidGround, meet_ground
from wherestood.terrain.model import Surface
from wherestood.terrain.read import open_terrain

__all__ = ["Hills", "Sight", "hills_at", "hills_of_book"]

Array = NDArray[np.float64]
#: True bearing [rad] in which a thing's foot is seen, and tangent of its elevation.
Sight = tuple[float, float]
BEARINGS = 720
#: Doubt of a model's heights [m], which moves the place that a sight meets; a place
#: known to less than this share of its distance is as good as that of the camera.
HEIGHT_SD_M, PLACED_TO = 3.0, 0.5


class Hills(Protocol):
    """Give the hills that hide the sun; None where there is no terrain."""

    def __call__(
        self,
        lon_deg: float,
        lat_deg: float,
        lens_m: float,
        seen: Sequence[Sight] = (),
    ) -> Horizon | None:
        """Return the horizon.

        Parameters
        ----------
        lon_deg, lat_deg, lens_m : float
            Where the camera stood, and its lens's height [deg, m].
        seen : sequence of Sight
            Things in the sun: the hills are those about them, where they can be placed.
        """


def hills_at(
    model: HorizonModel,
    standing: StandingGround,
    lon_deg: float,
    lat_deg: float,
    lens_m: float | None = None,
    seen: Sequence[Sight] = (),
) -> Horizon:
    """Return the elevation of the hills over true bearing.

    Parameters
    ----------
    model, standing
        The terrain, made ready.
    lon_deg, lat_deg : float
        Where the camera stood [deg].
    lens_m : float, optional
        Height of the eye [m]; a tripod's unless told.
    seen : sequence of Sight
        Things in the sun. The hills are those about the ground that they stand on, of
        several the highest; about the camera where that ground cannot be placed.

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
    camera = stand(model, standing, float(east[0]), float(north[0]), lens_m=lens_m)
    places = [_stood_on(model, standing, camera, sight) for sight in seen] or [camera]
    bearing: Array = np.arange(BEARINGS, dtype=np.float64) * (2.0 * math.pi / BEARINGS)
    turned: Array = np.asarray(bearing - math.radians(camera.turn_deg), np.float64)
    different = {(place.east_m, place.north_m): place for place in places}
    tangent = np.fmax.reduce([one.horizon(turned)[0] for one in different.values()])
    elevation = np.arctan(tangent)

    def horizon(wanted: Array) -> Array:
        # A bearing between one that is known and one that is not is not known.
        return np.interp(wanted, bearing, elevation, period=2.0 * math.pi)

    return horizon


def _stood_on(
    model: HorizonModel, standing: StandingGround, camera: Place, sight: Sight
) -> Place:
    """Return the ground on which a thing is seen; the camera's where it is not sure."""
    bearing_rad, tangent = sight
    grid_rad = bearing_rad - math.radians(camera.turn_deg)
    met = meet_ground(
        SolidGround.of(model), camera.east_m, camera.north_m, camera.lens_m,
        np.array([grid_rad]), np.array([tangent]),
    )  # fmt: skip
    far_m, grazing_rad = float(met.distance_m[0]), float(met.grazing_rad[0])
    doubt_m = HEIGHT_SD_M / max(math.tan(abs(grazing_rad)), 1e-6)
    if not (math.isfinite(far_m) and doubt_m < PLACED_TO * far_m):
        return camera
    try:
        return stand(
            model, standing, camera.east_m + far_m * math.sin(grid_rad),
            camera.north_m + far_m * math.cos(grid_rad),
        )  # fmt: skip
    except TerrainError:
        return camera


def hills_of_book(book: Daybook, progress: Progress = SILENT) -> Hills:
    """Return what gives horizons over the daybook's own terrain, opened as needed."""

    def hills(
        lon_deg: float, lat_deg: float, lens_m: float, seen: Sequence[Sight] = ()
    ) -> Horizon | None:
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
            standing = standing_ground(terrain)
            return hills_at(model, standing, lon_deg, lat_deg, lens_m, seen)
        except TerrainError:
            return None

    return hills
