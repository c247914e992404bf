"""Check that the sea is told from low land."""

import numpy as np
import pytest

from wherestood.terrain.water import sea_mask

CELL_M = 100.0  # a square kilometre is 100 cells


def _land() -> np.ndarray:
    return np.full((60, 60), 20.0, dtype=np.float32)


@pytest.mark.parametrize(
    ("rows", "columns", "sea"),
    [
        (slice(20, 30), slice(20, 30), True),  # 1 km2 inland
        (slice(20, 30), slice(20, 29), False),  # 0.9 km2 inland
        (slice(0, 4), slice(0, 3), True),  # 12 ha at the edge
        (slice(0, 3), slice(0, 3), False),  # 9 ha at the edge
    ],
)
def test_ground_at_zero_is_sea_where_it_is_large(
    rows: slice, columns: slice, sea: bool
) -> None:
    heights = _land()
    heights[rows, columns] = 0.0
    mask = sea_mask(heights, CELL_M)
    assert mask[rows, columns].all() == sea
    mask[rows, columns] = False
    assert not mask.any()


def test_edge_of_data_counts_like_the_edge_of_the_grid() -> None:
    heights = _land()
    heights[:, 30:] = np.nan
    heights[20:24, 26:30] = 0.0
    assert sea_mask(heights, CELL_M)[20:24, 26:30].all()


def test_flat_ground_below_zero_is_sea_only_at_the_edge() -> None:
    inland, coast = _land(), _land()
    inland[20:40, 20:40] = -3.0
    coast[20:40, 40:] = -3.0
    assert not sea_mask(inland, CELL_M).any()
    # Its rim against the land is not flat.
    assert sea_mask(coast, CELL_M)[21:39, 41:].all()


def test_hollow_below_zero_is_land() -> None:
    rows, columns = np.mgrid[0:60, 0:60]
    heights = (np.hypot(rows - 30, columns - 30) - 20.0).astype(np.float32)
    assert not sea_mask(heights, CELL_M).any()


def test_sea_floor_is_sea_up_to_the_shore() -> None:
    heights = np.tile(np.linspace(-900.0, 300.0, 60, dtype=np.float32), (60, 1))
    np.testing.assert_array_equal(sea_mask(heights, CELL_M), heights < 0.0)


def test_unknown_ground_is_no_sea() -> None:
    assert not sea_mask(np.full((9, 9), np.nan, dtype=np.float32), CELL_M).any()
