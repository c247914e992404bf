"""Check the sampling of heights between nodes."""

import numpy as np
import pytest

from wherestood.terrain.resample import sample_bilinear, sample_cubic

FLOAT32_AT_100_M = 2e-5


def _quadratic(row: np.ndarray, column: np.ndarray) -> np.ndarray:
    return 3.0 + 0.5 * column - 0.25 * row + 0.02 * column**2 - 0.03 * row * column


def _nodes() -> np.ndarray:
    rows, columns = np.mgrid[0:30, 0:40].astype(float)
    return _quadratic(rows, columns).astype(np.float32)


def test_cubic_is_exact_on_a_quadratic_surface() -> None:
    """Keys 1981: with a = -1/2 the convolution reproduces quadratics."""
    rng = np.random.default_rng(1)
    row, column = rng.uniform(1.0, 27.0, 500), rng.uniform(1.0, 37.0, 500)
    np.testing.assert_allclose(
        sample_cubic(_nodes(), column, row),
        _quadratic(row, column),
        atol=FLOAT32_AT_100_M,
    )


def test_cubic_error_falls_with_the_third_power_of_the_cell() -> None:
    def worst(nodes_a_turn: int) -> float:
        x = np.arange(nodes_a_turn * 3) * 2.0 * np.pi / nodes_a_turn
        heights = np.tile(np.sin(x), (8, 1)).astype(np.float32)
        column = np.linspace(nodes_a_turn, 2.0 * nodes_a_turn, 999)
        got = sample_cubic(heights, column, np.full(999, 3.5))
        return float(np.abs(got - np.sin(column * 2.0 * np.pi / nodes_a_turn)).max())

    assert worst(24) < worst(12) / 7.0


@pytest.mark.parametrize("sample", [sample_cubic, sample_bilinear])
def test_nodes_themselves_come_back(sample) -> None:
    heights = _nodes()
    row, column = np.mgrid[0:30, 0:40].astype(float)
    np.testing.assert_array_equal(sample(heights, column, row), heights)
    # A rounding error off the rim is still on it.
    np.testing.assert_array_equal(sample(heights, column - 1e-9, row + 1e-9), heights)


@pytest.mark.parametrize("sample", [sample_cubic, sample_bilinear])
def test_outside_is_unknown(sample) -> None:
    column = np.array([-0.1, 39.1, 5.0, 5.0, np.nan, np.inf, 1e30])
    row = np.array([5.0, 5.0, -0.1, 29.1, 5.0, 5.0, 5.0])
    assert np.isnan(sample(_nodes(), column, row)).all()


def test_cubic_falls_back_on_bilinear_beside_a_hole() -> None:
    heights = _nodes()
    heights[10, 10] = np.nan
    near_row, near_column = np.array([11.5, 8.5]), np.array([11.5, 8.5])
    np.testing.assert_array_equal(
        sample_cubic(heights, near_column, near_row),
        sample_bilinear(heights, near_column, near_row),
    )
    assert np.isfinite(sample_cubic(heights, near_column, near_row)).all()
    in_hole = sample_cubic(heights, np.array([10.5, 9.5, 10.0]), np.array([10.2] * 3))
    assert np.isnan(in_hole).all()


def test_bilinear_is_the_mean_of_four_at_the_middle() -> None:
    heights = np.array([[1.0, 2.0], [3.0, 6.0]], dtype=np.float32)
    got = sample_bilinear(heights, np.array([0.5, 0.25]), np.array([0.5, 0.0]))
    np.testing.assert_array_equal(got, np.array([3.0, 1.25], dtype=np.float32))


def test_hole_without_weight_hides_nothing() -> None:
    heights = np.array([[1.0, np.nan], [3.0, np.nan]], dtype=np.float32)
    assert sample_bilinear(heights, np.array([0.0]), np.array([0.5]))[0] == 2.0
