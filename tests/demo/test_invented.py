"""Check invented plates against the world they were taken in."""

from dataclasses import replace

import numpy as np
import pytest

from wherestood.demo.fields import smooth_field, smooth_line
from wherestood.demo.ground import GroundGrid, jacksboro, mean_radius_m
from wherestood.demo.invented import InventedCase, invent_case, invent_case_in
from wherestood.demo.settings import (
    InventionSettings,
    TraceSettings,
    ViewSettings,
    WorldSettings,
    draw_settings,
)
from wherestood.demo.silhouette import elevation_profile
from wherestood.demo.world import World, build_world

SEED = 20
# Two true pixels of a far skyline, generous against one mesh facet.
WITHIN_A_TENTH_DEGREE = 0.1


@pytest.fixture(scope="module")
def settings() -> InventionSettings:
    drawn = draw_settings(np.random.default_rng(SEED), cell_m=90.0)
    return replace(
        drawn,
        world=replace(drawn.world, mesh_cell_m=45.0),
        view=ViewSettings(),
        trace=TraceSettings(gaps=0, gross_runs=0),
    )


@pytest.fixture(scope="module")
def world(settings: InventionSettings) -> World:
    return build_world(jacksboro(), np.random.default_rng(SEED), settings.world)


@pytest.fixture(scope="module")
def case(world: World, settings: InventionSettings) -> InventedCase:
    return invent_case_in(world, np.random.default_rng(SEED), settings)


def test_same_seed_gives_the_same_case(settings: InventionSettings) -> None:
    cases = [
        invent_case(jacksboro(), np.random.default_rng(SEED), settings)
        for _ in range(2)
    ]
    np.testing.assert_array_equal(cases[0].y_px, cases[1].y_px)
    np.testing.assert_array_equal(cases[0].elevation_m, cases[1].elevation_m)
    assert cases[0].camera == cases[1].camera


def test_another_seed_gives_another_case(
    world: World, settings: InventionSettings, case: InventedCase
) -> None:
    other = invent_case_in(world, np.random.default_rng(SEED + 1), settings)
    assert not np.array_equal(other.station_m, case.station_m)


def test_lens_is_a_tripod_above_the_true_surface(
    world: World, case: InventedCase
) -> None:
    surface_m = world.mesh.surface_m(case.station_m[:1], case.station_m[1:2])[0]
    assert 0.5 <= case.station_m[2] - surface_m <= 2.5
    assert case.ground_m == pytest.approx(surface_m)


def test_picture_skyline_is_the_horizon_seen_through_the_camera(
    world: World, case: InventedCase
) -> None:
    """Two ways to the same line: along pixel columns and along bearings."""
    columns = np.flatnonzero(np.isfinite(case.true_y_px))[::25]
    rays = case.camera.rays(columns + 0.5, case.true_y_px[columns])
    bearing_deg = np.degrees(np.arctan2(rays[:, 0], rays[:, 1]))
    profile = elevation_profile(world.mesh, case.station_m, bearing_deg, steps=22)
    seen_deg = np.degrees(np.arctan2(rays[:, 2], np.hypot(rays[:, 0], rays[:, 1])))
    difference_deg = seen_deg - np.degrees(np.arctan(profile.where))
    # The search stops at 0.02 px; steep edges turn a pixel's rounding in
    # bearing into elevation, so a few columns may differ by more.
    assert np.median(np.abs(difference_deg)) < 1e-3
    assert np.mean(np.abs(difference_deg) < WITHIN_A_TENTH_DEGREE) > 0.98


def test_station_lies_in_the_ground_searched(case: InventedCase) -> None:
    west_m, south_m, east_m, north_m = case.area_m
    assert west_m < case.station_m[0] < east_m
    assert south_m < case.station_m[1] < north_m


def test_traced_line_strays_only_as_far_as_print_and_hand_allow(
    case: InventedCase, settings: InventionSettings
) -> None:
    error_px = case.y_px - case.true_y_px[(case.x_px - 0.5).astype(int)]
    hand_px = np.hypot(settings.trace.white_px, settings.trace.smooth_px)
    print_px = 0.004 * case.camera.height_px * 2
    assert 0.5 * settings.trace.white_px < error_px.std() < hand_px + print_px


def test_model_errs_by_the_sd_asked_for(world: World, case: InventedCase) -> None:
    rows = np.arange(case.elevation_m.shape[0]) * case.cell_m / world.cell_m
    columns = np.arange(case.elevation_m.shape[1]) * case.cell_m / world.cell_m
    truth_m = world.bare_m[
        np.ix_(np.round(rows).astype(int), np.round(columns).astype(int))
    ]
    error_m = (case.elevation_m - truth_m)[20:-20, 20:-20]
    asked_m = case.model.error_sd_m
    # Shift, smoothing and part of the canopy come on top of the smooth error.
    assert 0.8 * asked_m < error_m.std() < 5.0 * asked_m


def test_forest_covers_the_share_asked_for(
    world: World, settings: InventionSettings
) -> None:
    covered = np.mean(world.canopy_m > 0.0)
    asked = settings.world.forest.cover
    assert 0.8 * asked - 0.1 <= covered <= asked + 1e-3


def test_impossible_view_is_refused(world: World, settings: InventionSettings) -> None:
    wish = replace(settings, view=ViewSettings(margin_m=1e6))
    with pytest.raises(LookupError, match="open ground"):
        invent_case_in(world, np.random.default_rng(SEED), wish)


def test_records_hand_over_model_and_trace(case: InventedCase) -> None:
    assert case.terrain().elevation_m is case.elevation_m
    skyline = case.skyline()
    assert skyline.break_after[-1]
    assert len(skyline.x_px) == len(skyline.sd_px)


def test_water_stays_level() -> None:
    flat = GroundGrid(np.zeros((60, 60), dtype=np.float32), 0.0, 0.0, 100.0)
    world = build_world(flat, np.random.default_rng(SEED), WorldSettings())
    assert np.ptp(world.bare_m) == 0.0


def test_radius_at_equator_and_pole_is_that_of_the_ellipsoid() -> None:
    # WGS 84: sqrt(M N) is b at the equator and a^2 / b at the pole.
    assert mean_radius_m(0.0) == pytest.approx(6356752.3, abs=0.1)
    assert mean_radius_m(90.0) == pytest.approx(6399593.6, abs=0.1)


def test_smooth_field_is_correlated_as_said() -> None:
    field = smooth_field((600, 600), 20.0, np.random.default_rng(SEED))
    apart = np.mean(field[:, 20:] * field[:, :-20])
    # 900 independent patches: the correlation is known to about 0.05.
    assert apart == pytest.approx(np.exp(-1.0), abs=0.15)


def test_smooth_line_has_unit_sd_over_many_draws() -> None:
    rng = np.random.default_rng(SEED)
    lines = np.array([smooth_line(200, 50.0, rng) for _ in range(500)])
    assert lines.std() == pytest.approx(1.0, abs=0.05)
