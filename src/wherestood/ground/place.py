"""Stand a camera at a place of a terrain."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.camera.model import Camera, bearing_elevation
from wherestood.errors import TerrainError
from wherestood.terrain.ground import StandingGround
from wherestood.terrain.horizon import HorizonModel, nearest_start_m

__all__ = ["FARTHEST_M", "Place", "frame_bearings_rad", "stand"]

Array = NDArray[np.float64]
FARTHEST_M = 30_000.0


@dataclass(frozen=True)
class Place:
    """Hold where a camera stands, and the terrain that it looks at.

    Attributes
    ----------
    model : HorizonModel
    east_m, north_m : float
        Frame coordinates [m].
    ground_m, lens_m : float
        Heights of the ground a camera stands on and of its lens [m].
    turn_deg : float
        Grid convergence: add it to a grid bearing for a true one [deg].
    """

    model: HorizonModel
    east_m: float
    north_m: float
    ground_m: float
    lens_m: float
    turn_deg: float

    def horizon(
        self, bearing_rad: Array, farthest_m: float = FARTHEST_M
    ) -> tuple[Array, Array]:
        """Return tangent and distance of the horizon along grid bearings.

        Returns
        -------
        tangent, distance_m : (n,) float64 arrays
            NaN where the ground is not known [m].
        """
        found = self.model.horizons(
            np.array([self.east_m]),
            np.array([self.north_m]),
            np.array([self.lens_m]),
            bearing_rad,
            nearest_m=nearest_start_m(self.model.terrain.source_cell_m),
            farthest_m=farthest_m,
        )
        tangent = found.tangent[0]
        return np.where(np.isfinite(tangent), tangent, np.nan), found.distance_m[0]


def stand(
    model: HorizonModel,
    standing: StandingGround,
    east_m: float,
    north_m: float,
    *,
    above_m: float | None = None,
    lens_m: float | None = None,
) -> Place:
    """Stand a camera at a place.

    Parameters
    ----------
    model : HorizonModel
        The terrain.
    standing : StandingGround
        The ground that a camera may stand on.
    east_m, north_m : float
        Frame coordinates [m].
    above_m : float, optional
        Lens above that ground [m]; 1.5 unless told.
    lens_m : float, optional
        Height of the lens itself [m], before ``above_m``.

    Raises
    ------
    TerrainError
        If the ground there is not known.
    """
    ground_m = float(standing.at(np.array([east_m]), np.array([north_m]))[0])
    if not math.isfinite(ground_m):
        raise TerrainError(
            "The height of the ground there is not known.",
            "Choose a place on the terrain, or add terrain that covers it.",
        )
    if lens_m is None:
        lens_m = ground_m + (1.5 if above_m is None else above_m)
    frame = model.terrain.frame
    lon_deg, lat_deg = frame.to_lonlat(np.array([east_m]), np.array([north_m]))
    turn_deg = frame.convergence_deg(float(lon_deg[0]), float(lat_deg[0]))
    return Place(model, east_m, north_m, ground_m, lens_m, turn_deg)


def frame_bearings_rad(camera: Camera) -> tuple[float, float]:
    """Return grid bearings between which all of a frame looks, left below right [rad].

    The second is at most half a turn above the first.
    """
    width, height = float(camera.width_px), float(camera.height_px)
    down = np.linspace(0.0, height, 9)
    sides = [bearing_elevation(camera, x, down)[0] for x in (0.0, width)]
    middle = bearing_elevation(camera, width / 2.0, height / 2.0)[0]
    offs = (np.concatenate(sides) - float(middle) + np.pi) % (2.0 * np.pi) - np.pi
    return float(middle) + float(offs.min()), float(middle) + float(offs.max())
