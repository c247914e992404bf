"""Check the ground on which a camera may stand."""

from dataclasses import replace

import numpy as np
import pytest

from wherestood.earth import Frame
from wherestood.terrain import (
    Terrain,
    height_m,
    smoothed_ground_m,
    standing_ground,
)

CELL_M = 10.0
SD_M = 60.0
ONE_MILLIMETRE = 1e-3
FLOAT32_AT_1000_M = 2e-4


def _terrain(heights: np.ndarray, **more: object) -> Terrain:
    return Terrain(
        heights.astype(np.float32),
        west_m=-1000.0,
        south_m=-500.0,
        cell_m=CELL_M,
        frame=Frame.local(8.0, 47.0),
        source_cell_m=CELL_M,
        **more,
    )


def _axes(rows: int = 201, columns: int = 201) -> tuple[np.ndarray, np.ndarray]:
    return np.meshgrid(
        -1000.0 + CELL_M * np.arange(columns), -500.0 + CELL_M * np.arange(rows)
    )


def test_smoothing_leaves_a_plane_alone() -> None:
    east, north = _axes()
    terrain = _terrain(500.0 + 0.2 * east - 0.1 * north)
    at_east, at_north = np.array([-3.0, 200.0, 311.7]), np.array([500.0, 407.0, 600.2])
    np.testing.assert_allclose(
        smoothed_ground_m(terrain, at_east, at_north, SD_M),
        500.0 + 0.2 * at_east - 0.1 * at_north,
        atol=ONE_MILLIMETRE,
    )


def test_bump_is_lowered_by_the_widths_of_bell_and_bump() -> None:
    """A Gaussian bump under a Gaussian bell keeps s^2 / (s^2 + sd^2) of its height."""
    east, north = _axes()
    bump_sd_m = 120.0
    bump = 50.0 * np.exp(-(east**2 + (north - 500.0) ** 2) / (2.0 * bump_sd_m**2))
    top = smoothed_ground_m(_terrain(bump), np.array([0.0]), np.array([500.0]), SD_M)
    expected = 50.0 * bump_sd_m**2 / (bump_sd_m**2 + SD_M**2)
    # The bell is cut at four sd, which holds all but 6e-5 of its weight.
    assert float(top[0]) == pytest.approx(expected, rel=2e-3)


def test_points_asked_together_or_alone_or_of_a_kept_ground_agree() -> None:
    rng = np.random.default_rng(1)
    terrain = _terrain(rng.normal(800.0, 20.0, (201, 201)))
    east, north = rng.uniform(-900.0, 900.0, 50), rng.uniform(-400.0, 1400.0, 50)
    kept = standing_ground(terrain, SD_M).at(east, north)
    together = smoothed_ground_m(terrain, east, north, SD_M)
    alone = [
        smoothed_ground_m(terrain, east[i : i + 1], north[i : i + 1], SD_M)[0]
        for i in range(5)
    ]
    np.testing.assert_allclose(together, kept, atol=FLOAT32_AT_1000_M)
    np.testing.assert_allclose(alone, kept[:5], atol=FLOAT32_AT_1000_M)


def test_holes_do_not_pull_the_ground_down() -> None:
    heights = np.full((201, 201), 700.0)
    heights[95:105, 95:105] = np.nan
    ground = smoothed_ground_m(
        _terrain(heights), np.array([0.0, 70.0]), np.array([500.0, 500.0]), SD_M
    )
    np.testing.assert_allclose(ground, 700.0, atol=FLOAT32_AT_1000_M)


def test_far_inside_a_hole_and_off_the_grid_nothing_is_known() -> None:
    heights = np.full((201, 201), 700.0)
    heights[60:140, 60:140] = np.nan
    ground = smoothed_ground_m(
        _terrain(heights), np.array([0.0, 5000.0]), np.array([500.0, 500.0]), SD_M
    )
    assert np.isnan(ground).all()


def test_bell_is_never_narrower_than_a_source_cell() -> None:
    rng = np.random.default_rng(2)
    terrain = replace(_terrain(rng.normal(0.0, 10.0, (201, 201))), source_cell_m=90.0)
    east, north = np.array([0.0]), np.array([500.0])
    assert smoothed_ground_m(terrain, east, north, 60.0) == smoothed_ground_m(
        terrain, east, north, 90.0
    )


def test_roofs_of_a_surface_model_do_not_lift_the_camera() -> None:
    east, north = _axes()
    street = 100.0 + 0.15 * east
    # Blocks 40 m wide of houses 9 m high, streets 20 m wide between them.
    built = ((east % 60.0) < 40.0) & ((north % 60.0) < 40.0)
    heights = street + np.where(built, 9.0, 0.0)
    at_east = np.linspace(-300.0, 300.0, 21)
    at_north = np.full(21, 500.0)
    level = 100.0 + 0.15 * at_east
    bare = smoothed_ground_m(_terrain(heights), at_east, at_north, SD_M) - level
    top = _terrain(heights, surface="top")
    lowered = smoothed_ground_m(top, at_east, at_north, SD_M) - level
    # The mean stands at the built share: 9 m x (2/3)^2 = 4 m above the street.
    assert float(np.median(bare)) == pytest.approx(4.0, abs=0.3)
    assert np.abs(lowered).max() < 1.0


def test_height_is_the_bilinear_surface() -> None:
    heights = np.array([[1.0, 2.0], [3.0, 6.0]])
    terrain = _terrain(heights)
    got = height_m(
        terrain, np.array([-995.0, -1000.0, 0.0]), np.array([-495.0, -490.0, 0.0])
    )
    np.testing.assert_array_equal(got, [3.0, 3.0, np.nan])


def test_nothing_asked_gives_nothing() -> None:
    empty = np.empty(0)
    assert smoothed_ground_m(_terrain(np.ones((9, 9))), empty, empty).shape == (0,)


def test_hundred_thousand_stations_need_one_smoothing() -> None:
    rng = np.random.default_rng(3)
    terrain = _terrain(rng.normal(800.0, 20.0, (401, 401)))
    east, north = rng.uniform(-900.0, 2900.0, (2, 100_000))
    ground = smoothed_ground_m(terrain, east, north)
    assert ground.shape == (100_000,)
    assert np.isfinite(ground[(north > -400) & (north < 3400)]).all()
