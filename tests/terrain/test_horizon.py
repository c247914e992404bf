from __future__ import annotations

import numpy as np
import pytest

from wherestood.earth.frame import Frame
from wherestood.terrain.eight_rays import fill_horizon
from wherestood.terrain.horizon import HorizonModel, nearest_start_m
from wherestood.terrain.model import Terrain
from wherestood.terrain.rays import ray_steps

FRAME = Frame.local(7.0, 46.0)
CELL_M = 30.0
RADIUS_M = 6_371_000.0
# float32 heights of a few hundred metres are good to 3e-5 m; the nearest ground here
# is 60 m away.
ROUNDING = 1e-6


def land(elevation_m, *, cell_m=CELL_M, refraction=0.13, west_m=0.0, south_m=0.0):
    heights = np.asarray(elevation_m, dtype=np.float32)
    return Terrain(heights, west_m, south_m, cell_m, FRAME, refraction=refraction)


def horizon(terrain, east_m, north_m, height_m, bearing_deg, **options):
    found = HorizonModel.of(terrain, RADIUS_M).horizons(
        np.atleast_1d(np.float64(east_m)),
        np.atleast_1d(np.float64(north_m)),
        np.atleast_1d(np.float64(height_m)),
        np.radians(np.atleast_1d(np.float64(bearing_deg))),
        **options,
    )
    return found.tangent[0], found.distance_m[0]


def rough_ground(seed=1, size=130):
    rng = np.random.default_rng(seed)
    ground = np.zeros((size, size))
    for waves in range(1, 30):
        phase = rng.uniform(0.0, 2 * np.pi, 2)
        turn = rng.uniform(0.0, np.pi)
        j, i = np.indices(ground.shape)
        along = (i * np.cos(turn) + j * np.sin(turn)) * waves * 2 * np.pi / size
        ground += 150.0 / waves * np.sin(along + phase[0])
    return ground


def test_a_wall_stands_at_its_height_over_its_distance():
    ground = np.zeros((101, 101))
    ground[:, 80] = 200.0
    tangent, distance_m = horizon(land(ground), 600.0, 1500.0, 10.0, 90.0)
    far_m = 80 * CELL_M - 600.0
    drop_m = 0.87 * far_m**2 / (2 * RADIUS_M)
    assert tangent[0] == pytest.approx((190.0 - drop_m) / far_m, abs=ROUNDING)
    assert distance_m[0] == pytest.approx(far_m, abs=1e-3)


def test_curvature_and_refraction_lower_a_far_wall():
    ground = np.zeros((11, 1401))
    ground[:, 1400] = 500.0
    far_m = 1350 * CELL_M
    lowered = [
        horizon(
            land(ground, refraction=k), 50 * CELL_M, 150.0, 100.0, 90.0, farthest_m=5e4
        )[0][0]
        for k in (1.0, 0.0)
    ]
    assert lowered[0] == pytest.approx(400.0 / far_m, abs=ROUNDING)
    assert lowered[0] - lowered[1] == pytest.approx(
        far_m / (2 * RADIUS_M), abs=ROUNDING
    )


def test_a_horizon_bent_upwards_is_still_greatest():
    """With k over 1 the far ground rises, and the lids must allow for it."""
    ground = np.zeros((11, 1401))
    tangent, distance_m = horizon(
        land(ground, refraction=3.0), 1500.0, 150.0, 10.0, 90.0, farthest_m=3e4
    )
    assert distance_m[0] == pytest.approx(3e4, abs=1.0)
    assert tangent[0] == pytest.approx(-10.0 / 3e4 + 3e4 / RADIUS_M, abs=ROUNDING)


def test_horizon_over_a_plain_dips_as_a_sea_horizon_does():
    """Dip is sqrt(2 h (1 - k) / R), its distance sqrt(2 h R / (1 - k))."""
    plain = land(np.zeros((11, 1001)))
    tangent, distance_m = horizon(plain, 300.0, 150.0, 20.0, 90.0)
    assert tangent[0] == pytest.approx(-np.sqrt(2 * 20 * 0.87 / RADIUS_M), abs=1e-9)
    assert distance_m[0] == pytest.approx(np.sqrt(2 * 20 * RADIUS_M / 0.87), rel=1e-6)


def test_horizon_is_symmetric_about_a_cone():
    size = 401
    j, i = np.indices((size, size))
    cone = np.maximum(300.0 - 1.5 * np.hypot(i - 200, j - 200), 0.0)
    terrain = land(cone, cell_m=1.0)
    bearings_deg = np.arange(0.0, 90.0, 7.0)
    # The grid itself repeats each quarter turn.
    first, _ = horizon(terrain, 200.0, 200.0, 10.0, bearings_deg, nearest_m=5.0)
    for quarter in (90.0, 180.0, 270.0):
        turned, _ = horizon(
            terrain, 200.0, 200.0, 10.0, bearings_deg + quarter, nearest_m=5.0
        )
        assert np.allclose(turned, first, atol=ROUNDING)


def test_a_saddle_is_solved_inside_its_cell():
    """On z = x y of one cell the tangent along the diagonal peaks between nodes."""
    ground = np.zeros((4, 4))
    ground[1, 2] = ground[2, 1] = 100.0
    terrain = land(ground, refraction=1.0)
    tangent, distance_m = horizon(terrain, 0.0, 0.0, 200.0, 45.0, nearest_m=30.0)
    # Along the diagonal the middle cell's surface is 100 * 2 f (1 - f) m, flat before
    # and after; a grid of 2 million samples is exact to 1e-12 near a maximum.
    t = np.linspace(1.0, 3.0, 2_000_001)
    f = t - 1.0
    height = np.where(t < 2.0, 200.0 * f * (1.0 - f), 0.0)
    expected = ((height - 200.0) / (t * CELL_M * np.sqrt(2))).max()
    assert tangent[0] == pytest.approx(expected, abs=ROUNDING)
    assert CELL_M * np.sqrt(2) < distance_m[0]


def test_bearings_in_any_order_give_the_same_horizon():
    terrain = land(rough_ground())
    bearings_deg = np.arange(0.0, 360.0, 0.5)
    order = np.random.default_rng(2).permutation(bearings_deg.size)
    sorted_tangent, _ = horizon(terrain, 1900.0, 1950.0, 80.0, bearings_deg)
    mixed_tangent, _ = horizon(terrain, 1900.0, 1950.0, 80.0, bearings_deg[order])
    assert np.allclose(mixed_tangent, sorted_tangent[order], atol=1e-12)


def test_turning_the_ground_turns_its_horizon():
    ground = rough_ground()
    bearings_deg = np.arange(0.0, 360.0, 3.0)
    middle_m = 129 * CELL_M / 2
    as_is, _ = horizon(land(ground), middle_m, middle_m, 300.0, bearings_deg)
    # With rows that run northwards, rot90 turns the ground clockwise.
    turned, _ = horizon(
        land(np.rot90(ground)), middle_m, middle_m, 300.0, bearings_deg + 90.0
    )
    assert np.allclose(as_is, turned, atol=1e-9)


def test_raising_the_ground_never_lowers_the_horizon():
    ground = rough_ground()
    rng = np.random.default_rng(5)
    bearings_deg = np.arange(0.0, 360.0, 1.0)
    before, _ = horizon(land(ground), 2000.0, 2000.0, 200.0, bearings_deg)
    raised = ground + rng.uniform(0.0, 30.0, ground.shape)
    after, _ = horizon(land(raised), 2000.0, 2000.0, 200.0, bearings_deg)
    assert np.all(after >= before - ROUNDING)


def test_ground_nearer_than_the_start_is_passed_over():
    ground = np.zeros((101, 101))
    ground[:, 50] = 300.0
    ground[:, 90] = 50.0
    station = (48 * CELL_M, 1500.0, 10.0, 90.0)
    near, _ = horizon(land(ground), *station, nearest_m=31.0)
    beyond, _ = horizon(land(ground), *station, nearest_m=100.0)
    assert near[0] > 4.0
    assert 0.0 < beyond[0] < 0.05
    assert nearest_start_m(CELL_M) == 60.0
    assert nearest_start_m(90.0) == 135.0


def test_ground_beyond_the_farthest_distance_is_passed_over():
    ground = np.zeros((101, 101))
    ground[:, 90] = 200.0
    tangent, _ = horizon(land(ground), 600.0, 1500.0, 10.0, 90.0, farthest_m=1900.0)
    assert tangent[0] < 0.0


def test_a_hole_cannot_be_a_horizon():
    ground = np.zeros((101, 101))
    ground[:, 60] = 200.0
    whole, _ = horizon(land(ground), 600.0, 1500.0, 10.0, [90.0, 270.0])
    ground[:, 59:62] = np.nan
    holed, _ = horizon(land(ground), 600.0, 1500.0, 10.0, [90.0, 270.0])
    assert whole[0] > 0.1
    assert -0.05 < holed[0] < 0.0
    assert holed[1] == whole[1]


def test_rays_over_unknown_ground_alone_have_no_horizon():
    ground = np.full((50, 50), np.nan)
    ground[:, :10] = 5.0
    tangent, distance_m = horizon(land(ground), 900.0, 700.0, 50.0, [90.0, 270.0])
    assert tangent[0] == -np.inf
    assert np.isnan(distance_m[0])
    assert np.isfinite(tangent[1])
    assert np.isfinite(distance_m[1])


def test_a_ray_that_misses_the_grid_has_no_horizon():
    terrain = land(np.zeros((50, 50)))
    tangent, distance_m = horizon(terrain, -500.0, 700.0, 50.0, [0.0, 90.0, 270.0])
    assert list(np.isneginf(tangent)) == [True, False, True]
    assert list(np.isnan(distance_m)) == [True, False, True]


def test_a_station_off_the_grid_sees_it_from_where_rays_enter():
    ground = rough_ground()
    wider = np.pad(ground, ((0, 0), (40, 0)), constant_values=-900.0)
    bearings_deg = np.linspace(60.0, 120.0, 61)
    outside, _ = horizon(land(ground), -900.0, 1900.0, 500.0, bearings_deg)
    inside, _ = horizon(
        land(wider, west_m=-40 * CELL_M), -900.0, 1900.0, 500.0, bearings_deg
    )
    assert np.allclose(outside, inside, atol=ROUNDING)


def test_a_station_without_a_place_or_height_has_no_horizon():
    terrain = land(np.zeros((50, 50)))
    for station in ((np.nan, 700.0, 50.0), (700.0, 700.0, np.nan)):
        tangent, distance_m = horizon(terrain, *station, [0.0, 90.0])
        assert np.isneginf(tangent).all()
        assert np.isnan(distance_m).all()


@pytest.mark.parametrize("corner", [(0.0, 0.0), (3870.0, 0.0), (3870.0, 3870.0)])
def test_rays_along_grid_lines_and_edges_come_to_an_end(corner):
    terrain = land(rough_ground())
    tangent, _ = horizon(terrain, *corner, 400.0, np.arange(0.0, 360.0, 45.0))
    assert np.isfinite(tangent).sum() >= 2


def test_rays_along_grid_lines_from_a_node_cost_no_more_than_others():
    """The sine of 180 degrees is not 0 in floating point, but 1e-16."""
    terrain = land(rough_ground())
    parts = HorizonModel.of(terrain).pyramid.parts
    steps = ray_steps(np.radians([0.0, 90.0, 180.0, 270.0, 360.0]))
    found = np.empty((2, 5))
    looks = fill_horizon(
        parts,
        64.0,
        64.0,
        300.0,
        *steps,
        2.0,
        np.full(5, 1e3),
        0.0,
        *found,
        None,
        0.0,
        np.empty(0),
        np.arange(5),
    )
    # A ray crosses 65 cells; looking at each, at each level, were 65 * 7.
    assert looks < 5 * 65 * 7


def test_stations_do_not_disturb_one_another():
    terrain = land(rough_ground())
    model = HorizonModel.of(terrain, RADIUS_M)
    east_m = np.array([1000.0, 2000.0, 2900.0])
    north_m = np.array([1500.0, 2100.0, 800.0])
    height_m = np.array([250.0, 300.0, 280.0])
    bearings_rad = np.radians(np.arange(0.0, 360.0, 2.0))
    together = model.horizons(east_m, north_m, height_m, bearings_rad)
    for s in range(3):
        alone = model.horizons(
            east_m[s : s + 1], north_m[s : s + 1], height_m[s : s + 1], bearings_rad
        )
        assert np.array_equal(alone.tangent[0], together.tangent[s])
        assert np.array_equal(alone.distance_m[0], together.distance_m[s])


def test_no_stations_or_no_bearings_give_empty_answers():
    model = HorizonModel.of(land(np.zeros((5, 5))))
    none = np.empty(0)
    assert model.horizons(none, none, none, np.array([0.0])).tangent.shape == (0, 1)
    one = np.array([60.0])
    assert model.horizons(one, one, one, none).tangent.shape == (1, 0)


def test_a_bearing_that_is_no_number_is_refused():
    with pytest.raises(ValueError, match="bearing"):
        horizon(land(np.zeros((5, 5))), 60.0, 60.0, 5.0, [0.0, np.nan])


def test_a_start_at_the_lens_is_refused():
    with pytest.raises(ValueError, match="beyond 0 m"):
        horizon(land(np.zeros((5, 5))), 60.0, 60.0, 5.0, 0.0, nearest_m=0.0)
