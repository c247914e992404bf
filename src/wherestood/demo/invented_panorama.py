"""Invent panoramas: plates from one station, the camera turned between them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.demo.camera_truth import CameraTruth
from wherestood.demo.degrade import degrade_ground
from wherestood.demo.draw_camera import CameraDraw, draw_camera
from wherestood.demo.invented import (
    InventedCase,
    area_around,
    is_worth_a_plate,
    open_places,
    stand_at,
    takes_in_skyline,
)
from wherestood.demo.settings import InventionSettings
from wherestood.demo.silhouette import elevation_profile, picture_skyline
from wherestood.demo.tracing import trace_by_hand
from wherestood.demo.world import World

__all__ = ["InventedPanorama", "InventedTie", "PanoramaSettings", "invent_panorama_in"]

Array = NDArray[np.float64]

_PROFILE_STEP_DEG = 2.0
_MOST_STATIONS = 4000
_BLUNDER_PX = 150.0


@dataclass(frozen=True)
class PanoramaSettings:
    """Hold how panoramas are drawn.

    Attributes
    ----------
    plates : int
        How many plates.
    least_lens, greatest_lens : float
        Principal distance over plate diagonal: long lenses make narrow plates.
    turn_share, turn_share_sd : float
        Turn over the field of view, and its scatter.
    lean_sd_deg : float
        Scatter of tilt and roll from plate to plate [deg].
    turned_m : float
        Lens before the tripod's axis [m].
    ties : int
        Things seen on two neighbouring plates that somebody marked.
    tie_sd_px : float
        Error of such a mark [px].
    tie_blunders : int
        How many of them, a pair, join two different things.
    tied_from_m : float
        No thing nearer than this is marked: near ones move when the camera turns [m].
    """

    plates: int = 3
    least_lens: float = 1.5
    greatest_lens: float = 2.0
    turn_share: float = 0.85
    turn_share_sd: float = 0.05
    lean_sd_deg: float = 0.3
    turned_m: float = 0.15
    ties: int = 6
    tie_sd_px: float = 1.5
    tie_blunders: int = 1
    tied_from_m: float = 200.0


@dataclass(frozen=True)
class InventedTie:
    """Hold one thing marked on two plates, counted from 0 left to right."""

    plates: tuple[int, int]
    first_px: tuple[float, float]
    second_px: tuple[float, float]


@dataclass(frozen=True)
class InventedPanorama:
    """Hold the plates of an invented panorama, left to right, and what ties them.

    Attributes
    ----------
    cases : tuple of InventedCase
        One a plate: model, station and area are the same in all, but for the turn
        about the tripod.
    ties : tuple of InventedTie
    """

    cases: tuple[InventedCase, ...]
    ties: tuple[InventedTie, ...]


def invent_panorama_in(
    world: World,
    rng: np.random.Generator,
    settings: InventionSettings,
    shape: PanoramaSettings,
) -> InventedPanorama:
    """Invent one panorama in a world already built.

    Raises
    ------
    LookupError
        If no station offers the view asked for.
    """
    station_m, ground_m, draw, cameras = _find_view(world, rng, settings, shape)
    elevation_m = degrade_ground(
        world.bare_m,
        world.canopy_m,
        world.cell_m,
        settings.model,
        rng,
        water_level_m=world.ground.water_level_m,
    )
    area_m = area_around(station_m, settings.view.area_side_m, rng)
    cases = []
    for camera in cameras:
        lens_m = _turned(station_m, camera, shape)
        columns_px = np.arange(camera.width_px, dtype=np.float64) + 0.5
        truth = picture_skyline(world.mesh, lens_m, camera, columns_px)
        x_px, y_px = trace_by_hand(truth, camera, draw.facts, settings.trace, rng)
        cases.append(
            InventedCase(
                elevation_m,
                world.west_m,
                world.south_m,
                settings.model.cell_m,
                settings.model,
                lens_m,
                ground_m,
                camera,
                draw.facts,
                x_px,
                y_px,
                truth.where,
                truth.distance_m,
                area_m,
                world.ground.latitude_deg,
                world.ground.longitude_deg,
                world.settings.refraction,
            )
        )
    ties = [
        tie
        for left in range(len(cases) - 1)
        for tie in _ties(world, cases, left, rng, shape)
    ]
    return InventedPanorama(tuple(cases), tuple(ties))


def _turned(station_m: Array, camera: CameraTruth, shape: PanoramaSettings) -> Array:
    """Return where the lens stands: it turns about the tripod, not about itself."""
    bearing = np.radians(camera.bearing_deg)
    ahead = np.array([np.sin(bearing), np.cos(bearing), 0.0])
    return np.asarray(station_m + shape.turned_m * ahead)


def _find_view(
    world: World,
    rng: np.random.Generator,
    settings: InventionSettings,
    shape: PanoramaSettings,
) -> tuple[Array, float, CameraDraw, list[CameraTruth]]:
    """Try stations at random until one offers the view and all plates take it in."""
    candidates = open_places(world, settings.view)
    bearings_deg = np.arange(0.0, 360.0, _PROFILE_STEP_DEG)
    for place in rng.permutation(candidates)[:_MOST_STATIONS]:
        station_m, ground_m = stand_at(world, place, settings.view, rng)
        profile = elevation_profile(world.mesh, station_m, bearings_deg, steps=12)
        for _ in range(4):
            draw = draw_camera(rng, settings.plate)
            cameras = _cameras(draw.camera, rng, shape)
            if all(
                is_worth_a_plate(profile, camera, settings.view)
                and takes_in_skyline(world, station_m, camera, settings.view)
                for camera in cameras
            ):
                return station_m, ground_m, draw, cameras
    raise LookupError("no station of this world offers the view that was asked for")


def _cameras(
    drawn: CameraTruth, rng: np.random.Generator, shape: PanoramaSettings
) -> list[CameraTruth]:
    """Return the cameras of the plates: one lens, turned from left to right."""
    ratio = rng.uniform(shape.least_lens, shape.greatest_lens)
    c_px = ratio * 2.0 * drawn.half_diagonal_px
    field_deg = 2.0 * np.degrees(np.arctan(drawn.width_px / 2.0 / c_px))
    bearing_deg = drawn.bearing_deg
    cameras = []
    for _ in range(shape.plates):
        tilt, roll = rng.normal(0.0, shape.lean_sd_deg, 2)
        cameras.append(
            replace(
                drawn,
                c_px=c_px,
                bearing_deg=float(bearing_deg % 360.0),
                tilt_deg=float(0.3 * drawn.tilt_deg + tilt),
                roll_deg=float(0.5 * drawn.roll_deg + roll),
            )
        )
        share = rng.normal(shape.turn_share, shape.turn_share_sd)
        bearing_deg += float(field_deg * share)
    return cameras


def _ties(
    world: World,
    cases: list[InventedCase],
    left: int,
    rng: np.random.Generator,
    shape: PanoramaSettings,
) -> list[InventedTie]:
    """Mark things that two neighbouring plates show, some of them wrongly."""
    one, other = cases[left], cases[left + 1]
    found: list[InventedTie] = []
    for _ in range(400):
        if len(found) >= shape.ties:
            break
        at = rng.uniform(0.0, 1.0, 2) * (one.camera.width_px, one.camera.height_px)
        ray = one.camera.rays(at[:1], at[1:])[0]
        point = _met(world, one.station_m, ray)
        if point is None or math.dist(point, one.station_m) < shape.tied_from_m:
            continue
        x, y = other.camera.project((point - other.station_m)[None])
        there = np.array([x[0], y[0]])
        inside = (there > 0.0).all() and (
            there < (other.camera.width_px, other.camera.height_px)
        ).all()
        if not inside:
            continue
        at = at + rng.normal(0.0, shape.tie_sd_px, 2)
        there = there + rng.normal(0.0, shape.tie_sd_px, 2)
        if len(found) < shape.tie_blunders:
            there = there + rng.normal(0.0, _BLUNDER_PX, 2)
        size = np.array([other.camera.width_px, other.camera.height_px])
        first, second = np.clip(at, 0.0, size), np.clip(there, 0.0, size)
        found.append(
            InventedTie(
                (left, left + 1),
                (float(first[0]), float(first[1])),
                (float(second[0]), float(second[1])),
            )
        )
    return found


def _met(world: World, eye_m: Array, ray: Array) -> Array | None:
    """Return where a ray meets the ground, None in the sky or far away."""
    distance = np.geomspace(20.0, 15_000.0, 600)
    points = eye_m + distance[:, None] * ray
    inside = world.mesh.surface_m(points[:, 0], points[:, 1])
    under = np.flatnonzero(points[:, 2] <= inside)
    return None if not under.size else np.asarray(points[under[0]])
