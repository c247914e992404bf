"""Test that points of a plate come to lie where they say, as often as they say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy import ndimage, stats

from wherestood.earth.frame import Frame
from wherestood.ground.cameras import PlateCameras
from wherestood.ground.mapping import Doubts, KnownPlace, Mapping
from wherestood.ground.points import GRAZING, ground_points
from wherestood.terrain.ground import height_m
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import GROUND, SKY, SolidGround, meet_ground
from wherestood.terrain.model import Terrain

WIDTH_PX, HEIGHT_PX = 3000, 2200
TERRAIN_SD_M, READING_SD_PX = 5.0, 1.5
#: Errors of elevation models hang together over some hundreds of metres.
CORRELATED_M = 300.0
FIVE_PERCENT = 0.05
SCENES, A_SCENE = 12, 80


def field(rng, shape, cell_m):
    """Return an error of an elevation model: smooth, of one standard error."""
    sigma = CORRELATED_M / np.sqrt(2.0) / cell_m
    smooth = ndimage.gaussian_filter(rng.standard_normal(shape), sigma, mode="wrap")
    return smooth * TERRAIN_SD_M / smooth.std()


def on_true_ground(draws, camera, wrong, land):
    """Return cameras that stand on the true ground, the model being wrong there."""
    column = np.rint((draws.east_m - land.west_m) / land.cell_m).astype(int)
    row = np.rint((draws.north_m - land.south_m) / land.cell_m).astype(int)
    here = np.array([camera[0]]), np.array([camera[1]])
    tower_m = camera[2] - float(height_m(land, *here)[0])
    ground_m = height_m(land, draws.east_m, draws.north_m).astype(float)
    return replace(draws, lens_m=ground_m + tower_m + wrong[row, column])


def test_ellipses_hold_nine_in_ten_of_the_true_points(
    land, make_mapping, make_draws, middle_camera
):
    """Fix, terrain and reading are all wrong, each point's in its own way."""
    rng = np.random.default_rng(71)
    inside, told = 0, 0
    for scene in range(SCENES):
        camera = middle_camera.copy()
        camera[3] += 2.0 * np.pi * scene / SCENES
        doubts = Doubts(READING_SD_PX, TERRAIN_SD_M)
        mapping = make_mapping(rng, camera=camera, doubts=doubts)
        wrong = field(rng, land.elevation_m.shape, land.cell_m)
        true_land = replace(
            land, elevation_m=(land.elevation_m + wrong).astype(np.float32)
        )
        truth = on_true_ground(
            make_draws(camera, rng.standard_normal((A_SCENE, 13))), camera, wrong, land
        )
        truth = replace(truth, lens_m=truth.lens_m + rng.normal(0.0, 1.0, A_SCENE))
        x = rng.uniform(0, WIDTH_PX, A_SCENE)
        y = rng.uniform(0.2 * HEIGHT_PX, HEIGHT_PX, A_SCENE)
        each = PlateCameras(truth, WIDTH_PX, HEIGHT_PX)
        bearing, tangent = each.directions(x[:, None], y[:, None])
        met = meet_ground(
            SolidGround.of(HorizonModel.of(true_land)), truth.east_m, truth.north_m,
            truth.lens_m, bearing[:, 0], tangent[:, 0],
        )  # fmt: skip
        east = truth.east_m + met.distance_m * np.sin(bearing[:, 0])
        north = truth.north_m + met.distance_m * np.cos(bearing[:, 0])
        read = rng.normal(0.0, READING_SD_PX, (2, A_SCENE))
        found = ground_points(mapping, x + read[0], y + read[1], rng)
        on = found.what == GROUND
        told += on.sum()
        inside += (found.ellipses.holds(east, north) & on).sum()
    assert told >= 500
    band = stats.binom.interval(0.99, told, 0.9)
    assert band[0] <= inside <= band[1], f"{inside} of {told}"


def test_sky_and_what_cannot_be_told_have_no_place(make_mapping):
    rng = np.random.default_rng(72)
    mapping = make_mapping(rng)
    found = ground_points(mapping, [1500.0, 1500.0], [5.0, 2195.0], rng)
    assert found.what[0] == SKY
    assert np.isnan(found.east_m[0])
    assert np.isnan(found.distance_m[0])
    assert found.met[0] == 0.0


def test_grazing_points_are_told_by_distance_alone(make_mapping):
    rng = np.random.default_rng(73)
    steep = Doubts(READING_SD_PX, 0.5, least_angle_rad=np.radians(60.0))
    mapping = make_mapping(rng, doubts=steep)
    found = ground_points(
        mapping, np.full(20, 1500.0), np.linspace(1300, 2190, 20), rng
    )
    flat = found.what == GRAZING
    assert flat.any()
    assert np.isnan(found.east_m[flat]).all()
    assert np.isfinite(found.nearest_m[flat]).all()
    assert (found.farthest_m[flat] >= found.nearest_m[flat]).all()


def test_doubt_along_the_ray_is_distance_squared_over_height(make_mapping):
    """D^2 s / h along and D s across for a pointing error s: the table's formula."""
    level = Terrain(
        np.zeros((401, 401), np.float32), -5000.0, -5000.0, 25.0,
        Frame.local(-27.5, 41.2), "ground", 25.0, refraction=1.0,
    )  # fmt: skip
    solid = SolidGround.of(HorizonModel.of(level))
    up_m, distance_m, error_rad = 100.0, 2000.0, np.radians(0.05)
    rng = np.random.default_rng(74)
    count = 3000
    base = make_mapping(rng, count=count).cameras.draws
    none = np.zeros(count)
    draws = replace(
        base, east_m=none, north_m=none, lens_m=none + up_m, bearing_rad=none,
        tilt_rad=none, roll_rad=none, rise_px=none, cross_px=none, k1=none,
        principal_distance_px=none + 3000.0, vertical_scale=none, warp_two_px=none,
        warp_three_px=none,
    )  # fmt: skip
    mapping = Mapping(
        solid, PlateCameras(draws, WIDTH_PX, HEIGHT_PX), (WIDTH_PX, HEIGHT_PX),
        (KnownPlace(0.0, 0.0, 1.0),), "located",
        Doubts(3000.0 * error_rad, 0.0), lens_height_m=up_m, lens_height_sd_m=0.0,
    )  # fmt: skip
    y = HEIGHT_PX / 2 + 3000.0 * up_m / distance_m
    found = ground_points(mapping, [WIDTH_PX / 2], [y], rng)
    nine_in_ten = np.sqrt(-2.0 * np.log(0.1))
    along_m = nine_in_ten * distance_m**2 * error_rad / up_m
    across_m = nine_in_ten * distance_m * error_rad
    assert found.what[0] == GROUND
    assert abs(found.ellipses.major_m[0] / along_m - 1.0) < FIVE_PERCENT
    assert abs(found.ellipses.minor_m[0] / across_m - 1.0) < FIVE_PERCENT
