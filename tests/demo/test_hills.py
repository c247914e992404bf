"""Check that invented ground is such as water could have worn."""

import numpy as np
import pytest

from wherestood.demo.erosion import erode
from wherestood.demo.hills import invented_ground


def hollows(height_m: np.ndarray) -> int:
    """Count inner nodes lower than all eight neighbours."""
    middle = height_m[1:-1, 1:-1]
    lowest = np.full(middle.shape, np.inf)
    rows, columns = height_m.shape
    for di in (-1, 0, 1):
        for dj in (-1, 0, 1):
            if di or dj:
                shifted = height_m[1 + di : rows - 1 + di, 1 + dj : columns - 1 + dj]
                lowest = np.minimum(lowest, shifted)
    return int(np.sum(middle < lowest))


def test_cutting_comes_to_balance_uplift() -> None:
    """At rest ``U = K sqrt(A) S``: slopes stop growing."""
    shape = (60, 60)
    uplift_m, erodibility = np.full(shape, 2.0), np.full(shape, 0.3)
    rng = np.random.default_rng(1)
    height_m = erode(rng.uniform(0.0, 1.0, shape), uplift_m, erodibility, 400)
    later_m = erode(height_m, uplift_m, erodibility, 50)
    # Steady: fifty more steps of 2 m uplift hardly raise the mean.
    assert abs(later_m.mean() - height_m.mean()) < 1.0


def test_rain_leaves_no_hollows() -> None:
    shape = (80, 80)
    rng = np.random.default_rng(2)
    worn_m = erode(
        rng.uniform(0.0, 30.0, shape), np.full(shape, 3.0), np.full(shape, 0.05), 60
    )
    rough = hollows(rng.uniform(0.0, 30.0, shape))
    # Creep after the last cut may close a few.
    assert hollows(worn_m) < 0.02 * rough + 5


def test_outer_edge_stays_put() -> None:
    shape = (40, 40)
    start_m = np.zeros(shape)
    worn_m = erode(start_m, np.full(shape, 3.0), np.full(shape, 0.05), 10)
    assert np.ptp(worn_m[0]) == 0.0
    assert np.ptp(worn_m[:, -1]) == 0.0


def test_same_seed_gives_the_same_ground() -> None:
    one, other = (invented_ground(4, nodes=64) for _ in range(2))
    np.testing.assert_array_equal(one.elevation_m, other.elevation_m)


def test_height_and_water_are_as_asked() -> None:
    ground = invented_ground(5, nodes=128, high_m=500.0, water_share=0.1)
    assert np.mean(ground.elevation_m <= 0.0) == pytest.approx(0.1, abs=0.03)
    assert np.quantile(ground.elevation_m, 0.98) == pytest.approx(500.0, abs=15.0)


def test_odd_grid_is_refused() -> None:
    with pytest.raises(ValueError, match="multiple of 4, got 66"):
        invented_ground(1, nodes=66)
