"""Invent plates for the studies, and say what a search is given of them.

The renderer casts rays on a triangle mesh and shares no code with the horizon. Real
ground (Jacksboro, shipped with matplotlib) and invented ground take turns.
"""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import shapely

from wherestood.demo.ground import GroundGrid, jacksboro
from wherestood.demo.hills import invented_ground
from wherestood.demo.invented import InventedCase, invent_case_in
from wherestood.demo.settings import InventionSettings, draw_settings
from wherestood.demo.world import World, build_world
from wherestood.evidence.profile import EDGE_CELLS
from wherestood.evidence.unknowns import COUNT
from wherestood.fix.area import Area
from wherestood.terrain.model import Terrain

PER_WORLD = 4
MOST_ON_THE_EDGE = 0.05
AREA_KM2 = 5.0
#: Scans of plates whose size is known.
PX_PER_MM = 20.0
#: A station lies this far out from the middle of its square, at most [half sides].
FARTHEST_OUT = 0.9


def ground_of(world_number: int) -> GroundGrid:
    """Return real ground for an even number, invented ground for an odd one."""
    return jacksboro() if world_number % 2 == 0 else invented_ground(world_number)


def plates_of(world_number: int, seed: int) -> list[tuple[World, InventedCase]]:
    """Return the plates of one world, those on the ground's very end left out."""
    rng = np.random.default_rng(seed + world_number)
    ground = ground_of(world_number)
    first = draw_settings(rng, cell_m=ground.cell_m)
    world = build_world(ground, rng, first.world)
    plates = []
    for _ in range(PER_WORLD):
        drawn = draw_settings(rng, cell_m=ground.cell_m)
        settings = well_inside(ground, replace(drawn, world=first.world))
        trace = replace(settings.trace, gross_runs=0)
        try:
            case = invent_case_in(world, rng, replace(settings, trace=trace))
        except LookupError:
            continue
        if share_on_the_edge(case) <= MOST_ON_THE_EDGE:
            plates.append((world, case))
    return plates


def well_inside(ground: GroundGrid, settings: InventionSettings) -> InventionSettings:
    """Return settings that keep stations well away from the end of the ground."""
    margin_m = min(5000.0, 0.3 * min(ground.width_m, ground.depth_m))
    return replace(settings, view=replace(settings.view, margin_m=margin_m))


def share_on_the_edge(case: InventedCase) -> float:
    """Return the share of the skyline that is the end of the invented ground.

    A world that ends there has a horizon that no real one would have: real ground
    goes on, and a search takes such a horizon for unknown.
    """
    camera = case.camera
    columns_px = np.arange(camera.width_px) + 0.5
    turn = np.arctan((columns_px - camera.x0_px) / camera.c_px)
    bearing = math.radians(camera.bearing_deg) + turn
    east = case.station_m[0] + case.distance_m * np.sin(bearing)
    north = case.station_m[1] + case.distance_m * np.cos(bearing)
    rows, columns = case.elevation_m.shape
    inner_m = EDGE_CELLS * case.cell_m
    away_m = np.min(
        (
            east - case.west_m,
            case.west_m + (columns - 1) * case.cell_m - east,
            north - case.south_m,
            case.south_m + (rows - 1) * case.cell_m - north,
        ),
        axis=0,
    )
    seen = np.isfinite(away_m)
    return float((away_m[seen] < inner_m).mean())


def scan_of(case: InventedCase, px_per_mm: float | None = None) -> SimpleNamespace:
    """Return what is known of an invented plate beside its skyline.

    Parameters
    ----------
    px_per_mm : float or None
        Pixels to a millimetre of plate; None where nothing is known of its size.
    """
    camera = case.camera
    size_mm = None
    if px_per_mm is not None:
        size_mm = (camera.width_px / px_per_mm, camera.height_px / px_per_mm)
    return SimpleNamespace(
        px_per_mm=px_per_mm,
        size_mm=size_mm,
        trimmed=case.facts.is_trimmed,
        corners_px=None,
        width_px=camera.width_px,
        height_px=camera.height_px,
    )


def true_unknowns(case: InventedCase) -> np.ndarray:
    """Return the true camera in the order of the unknowns."""
    camera = case.camera
    diagonal = math.hypot(camera.width_px, camera.height_px)
    theta = np.zeros(COUNT)
    theta[:7] = (
        math.radians(camera.bearing_deg),
        math.log(camera.c_px / diagonal),
        math.radians(camera.tilt_deg),
        math.radians(camera.roll_deg),
        camera.rise_px / diagonal,
        camera.cross_px / diagonal,
        camera.k1,
    )
    return theta


def square_about(terrain: Terrain, middle_m: np.ndarray, area_km2: float) -> Area:
    """Return a square of ground about its middle, east and north [m]."""
    half_m = 500.0 * math.sqrt(area_km2)
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half_m + middle_m
    lon, lat = terrain.frame.to_lonlat(*corners.T)
    return Area(shapely.Polygon(np.column_stack((lon, lat))), "invented")


def searched(
    case: InventedCase, rng: np.random.Generator, area_km2: float = AREA_KM2
) -> Area:
    """Return a square with the station anywhere in it, but at its very edge."""
    half_m = 500.0 * math.sqrt(area_km2)
    middle = case.station_m[:2] + rng.uniform(-FARTHEST_OUT, FARTHEST_OUT, 2) * half_m
    return square_about(case.terrain(), middle, area_km2)
