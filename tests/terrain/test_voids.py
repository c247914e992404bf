"""Check that small holes are filled and nothing else is."""

import numpy as np
import pytest

from wherestood.terrain.voids import SMALL_VOID_CELLS, fill_small_voids

FLOAT32_AT_100_M = 1e-4


def _flat(rows: int = 60, columns: int = 60) -> np.ndarray:
    return np.full((rows, columns), 100.0, dtype=np.float32)


def test_hole_in_flat_ground_is_filled_flat() -> None:
    heights = _flat()
    heights[20:25, 30:34] = np.nan
    assert fill_small_voids(heights) == 20
    np.testing.assert_allclose(heights, 100.0, atol=FLOAT32_AT_100_M)


@pytest.mark.parametrize(
    ("width", "filled"), [(SMALL_VOID_CELLS, True), (SMALL_VOID_CELLS + 1, False)]
)
def test_ten_cells_across_is_the_limit(width: int, filled: bool) -> None:
    heights = _flat()
    heights[20 : 20 + width, 20 : 20 + width] = np.nan
    count = fill_small_voids(heights)
    assert count == (width**2 if filled else 0)
    assert np.isfinite(heights).all() == filled


def test_long_crack_is_filled_away_from_the_grid_s_rim() -> None:
    heights = _flat()
    heights[:, 30:33] = np.nan
    fill_small_voids(heights)
    assert np.isfinite(heights[6:-6]).all()


def test_outside_of_the_data_is_not_invented() -> None:
    heights = _flat()
    heights[:, :4] = np.nan
    assert fill_small_voids(heights) == 0
    assert np.isnan(heights[:, :4]).all()


def test_hole_near_a_strip_s_end_is_filled_as_anywhere() -> None:
    rng = np.random.default_rng(2)
    tile = rng.normal(0.0, 1.0, (90, 40)).astype(np.float32)
    tile[40:45, 10:15] = np.nan
    alone = tile.copy()
    fill_small_voids(alone)
    # The hole straddles row 512, where one strip ends.
    tall = np.zeros((1100, 40), dtype=np.float32)
    tall[470:560] = tile
    fill_small_voids(tall)
    np.testing.assert_array_equal(tall[510:515, 10:15], alone[40:45, 10:15])


def test_known_heights_are_never_changed() -> None:
    rng = np.random.default_rng(5)
    heights = rng.normal(500.0, 50.0, (80, 80)).astype(np.float32)
    before = heights.copy()
    heights[rng.random(heights.shape) < 0.2] = np.nan
    known = np.isfinite(heights)
    fill_small_voids(heights)
    np.testing.assert_array_equal(heights[known], before[known])


def test_nothing_known_and_nothing_missing_are_left_alone() -> None:
    assert fill_small_voids(np.full((5, 5), np.nan, dtype=np.float32)) == 0
    assert fill_small_voids(_flat()) == 0
