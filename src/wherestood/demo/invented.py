"""Invent plates whose station is known, with the model a fitter would be given."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.demo.camera_truth import CameraTruth
from wherestood.demo.degrade import ModelSettings, degrade_ground
from wherestood.demo.draw_camera import CameraDraw, PlateFacts, draw_camera
from wherestood.demo.ground import GroundGrid
from wherestood.demo.settings import InventionSettings, ViewSettings
from wherestood.demo.silhouette import (
    Silhouette,
    elevation_profile,
    picture_skyline,
)
from wherestood.demo.tracing import trace_by_hand
from wherestood.demo.world import World, build_world
from wherestood.earth.frame import Frame
from wherestood.plate.skyline import Skyline
from wherestood.terrain.model import Terrain

__all__ = [
    "InventedCase",
    "area_around",
    "invent_case",
    "invent_case_in",
    "is_worth_a_plate",
    "open_places",
    "stand_at",
    "takes_in_skyline",
]

Array = NDArray[np.float64]

_PROFILE_STEP_DEG = 2.0
_MOST_STATIONS = 4000


@dataclass(frozen=True)
class InventedCase:
    """Hold an invented plate, its truth and what the fitter is given.

    Attributes
    ----------
    elevation_m : (rows, columns) float32 array
        The model's heights [m], row 0 the southernmost.
    west_m, south_m, cell_m : float
        Position of the model's node ``[0, 0]`` and its spacing [m].
    model : ModelSettings
        How the model was degraded; ``model.surface`` is for the fitter.
    station_m : (3,) float64 array
        True east, north and height of the lens [m].
    ground_m : float
        True height of the ground under the lens [m].
    camera : CameraTruth
        The true camera.
    facts : PlateFacts
        What is known to the fitter of plate, scan and lens.
    x_px, y_px : (n,) float64 array
        The skyline as traced, gaps and columns without one left out [px].
    true_y_px, distance_m : (width_px,) float64 array
        The true skyline and its horizontal distance, one a column at
        ``column + 0.5``; NaN where it leaves the frame [px], [m].
    area_m : (4,) float64 array
        West, south, east, north of the ground searched [m].
    latitude_deg, longitude_deg, refraction : float
        Where the ground lies [deg]; true refraction coefficient.
    """

    elevation_m: NDArray[np.float32]
    west_m: float
    south_m: float
    cell_m: float
    model: ModelSettings
    station_m: Array
    ground_m: float
    camera: CameraTruth
    facts: PlateFacts
    x_px: Array
    y_px: Array
    true_y_px: Array
    distance_m: Array
    area_m: Array
    latitude_deg: float
    longitude_deg: float
    refraction: float

    def terrain(self, refraction: float = 0.13) -> Terrain:
        """Return the model as the program's own record of terrain."""
        return Terrain(
            self.elevation_m,
            self.west_m,
            self.south_m,
            self.cell_m,
            Frame.local(self.longitude_deg, self.latitude_deg),
            surface=self.model.surface,
            source_cell_m=self.cell_m,
            refraction=refraction,
        )

    def skyline(self, sd_px: float = 1.0) -> Skyline:
        """Return the traced skyline as the program's own record of one."""
        return Skyline(
            self.x_px,
            self.y_px,
            np.full(len(self.x_px), sd_px),
            self.camera.width_px,
            self.camera.height_px,
            np.append(np.diff(self.x_px) > 1.5, True),
            source="invented",
        )


def invent_case(
    ground: GroundGrid, rng: np.random.Generator, settings: InventionSettings
) -> InventedCase:
    """Invent a world and one plate taken in it.

    Parameters
    ----------
    ground : GroundGrid
        What the world grows from.
    rng : numpy.random.Generator
        Source of all randomness: the same state gives the same case.
    settings : InventionSettings
        How everything is drawn.

    Raises
    ------
    LookupError
        If no station offers the view asked for.
    """
    world = build_world(ground, rng, settings.world)
    return invent_case_in(world, rng, settings)


def invent_case_in(
    world: World, rng: np.random.Generator, settings: InventionSettings
) -> InventedCase:
    """Invent one plate in a world already built; as `invent_case`."""
    station_m, ground_m, camera_draw = _find_view(world, rng, settings)
    camera = camera_draw.camera
    columns_px = np.arange(camera.width_px, dtype=np.float64) + 0.5
    truth = picture_skyline(world.mesh, station_m, camera, columns_px)
    x_px, y_px = trace_by_hand(truth, camera, camera_draw.facts, settings.trace, rng)
    elevation_m = degrade_ground(
        world.bare_m,
        world.canopy_m,
        world.cell_m,
        settings.model,
        rng,
        water_level_m=world.ground.water_level_m,
    )
    return InventedCase(
        elevation_m,
        world.west_m,
        world.south_m,
        settings.model.cell_m,
        settings.model,
        station_m,
        ground_m,
        camera,
        camera_draw.facts,
        x_px,
        y_px,
        truth.where,
        truth.distance_m,
        area_around(station_m, settings.view.area_side_m, rng),
        world.ground.latitude_deg,
        world.ground.longitude_deg,
        world.settings.refraction,
    )


def _find_view(
    world: World, rng: np.random.Generator, settings: InventionSettings
) -> tuple[Array, float, CameraDraw]:
    """Try stations at random until one offers the view and the plate takes it in."""
    candidates = open_places(world, settings.view)
    bearings_deg = np.arange(0.0, 360.0, _PROFILE_STEP_DEG)
    for place in rng.permutation(candidates)[:_MOST_STATIONS]:
        station_m, ground_m = stand_at(world, place, settings.view, rng)
        profile = elevation_profile(world.mesh, station_m, bearings_deg, steps=12)
        for _ in range(4):
            draw = draw_camera(rng, settings.plate)
            if not is_worth_a_plate(profile, draw.camera, settings.view):
                continue
            if takes_in_skyline(world, station_m, draw.camera, settings.view):
                return station_m, ground_m, draw
    raise LookupError("no station of this world offers the view that was asked for")


def open_places(world: World, view: ViewSettings) -> NDArray[np.int64]:
    """Return row and column of the nodes where a camera may stand."""
    allowed = world.open_m >= view.open_m
    edge = int(np.ceil(view.margin_m / world.cell_m))
    allowed[:edge], allowed[-edge:] = False, False
    allowed[:, :edge], allowed[:, -edge:] = False, False
    places = np.argwhere(allowed)
    if not len(places):
        raise LookupError("no open ground so far from the edge of this world")
    return places


def stand_at(
    world: World, place: NDArray[np.int64], view: ViewSettings, rng: np.random.Generator
) -> tuple[Array, float]:
    """Set up the tripod somewhere in a mesh cell."""
    row, column = place + rng.uniform(-0.5, 0.5, 2)
    east_m = world.west_m + column * world.cell_m
    north_m = world.south_m + row * world.cell_m
    ground_m = float(
        world.mesh.surface_m(np.array([east_m]), np.array([north_m])).item()
    )
    lens_m = max(0.5, rng.normal(view.lens_height_m, view.lens_height_sd_m))
    return np.array([east_m, north_m, ground_m + lens_m]), ground_m


def is_worth_a_plate(
    profile: Silhouette, camera: CameraTruth, view: ViewSettings
) -> bool:
    """Tell whether the horizon in the view has the relief and distance wanted."""
    half_view_deg = np.degrees(np.arctan(camera.width_px / 2.0 / camera.c_px))
    middle = camera.bearing_deg / _PROFILE_STEP_DEG
    reach = half_view_deg / _PROFILE_STEP_DEG
    within = np.arange(np.ceil(middle - reach), np.floor(middle + reach) + 1)
    index = within.astype(np.int64) % len(profile.where)
    relief_deg = np.degrees(np.arctan(profile.where[index])).std()
    median_m = np.median(np.nan_to_num(profile.distance_m[index], nan=np.inf))
    return bool(
        relief_deg >= view.least_relief_deg
        and view.nearest_median_m <= median_m <= view.farthest_median_m
    )


def takes_in_skyline(
    world: World, station_m: Array, camera: CameraTruth, view: ViewSettings
) -> bool:
    """Tell whether enough of the skyline lies within the frame."""
    columns_px = np.linspace(0.5, camera.width_px - 0.5, 80)
    rows_px = picture_skyline(world.mesh, station_m, camera, columns_px).where
    return bool(np.mean(np.isfinite(rows_px)) >= view.least_visible)


def area_around(station_m: Array, side_m: float, rng: np.random.Generator) -> Array:
    """Lay a square at random so that the station is well inside it."""
    south_west = station_m[:2] - side_m * rng.uniform(0.1, 0.9, 2)
    return np.concatenate([south_west, south_west + side_m])
