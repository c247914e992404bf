from __future__ import annotations

import numba
import numpy as np
import pytest

from wherestood.terrain.eights import fetch_lids, load, store
from wherestood.terrain.pyramid import FIRST_LEVEL, build_pyramid

# Lids are held in float32: at heights of 1 km and slopes of 100 m a cell their last
# digit is under a tenth of a millimetre, and they are rounded upwards.
ONE_TENTH_MILLIMETRE = 1e-4


def lids_over_nodes(elevation_m, level):
    """Yield each block's known heights and its lid's at the same nodes."""
    pyramid = build_pyramid(elevation_m)
    size = 1 << level
    for row in range(-(-(elevation_m.shape[0] - 1) // size)):
        for column in range(-(-(elevation_m.shape[1] - 1) // size)):
            lid = pyramid.lid(level, row, column)
            block = elevation_m[
                row * size : row * size + size + 1,
                column * size : column * size + size + 1,
            ].astype(np.float64)
            j, i = np.indices(block.shape)
            yield block, lid[0] + lid[1] * i + lid[2] * j


@pytest.mark.parametrize("shape", [(2, 2), (5, 5), (33, 33), (37, 50), (3, 61)])
def test_no_known_node_stands_above_its_lid(shape):
    rng = np.random.default_rng(3)
    elevation_m = rng.normal(800.0, 200.0, shape).astype(np.float32)
    elevation_m[rng.uniform(size=shape) < 0.02] = np.nan
    for level in range(FIRST_LEVEL, build_pyramid(elevation_m).top + 1):
        for block, lid_m in lids_over_nodes(elevation_m, level):
            known = np.isfinite(block)
            assert np.all(lid_m[known] >= block[known] - ONE_TENTH_MILLIMETRE)


def test_a_lid_over_a_slope_lies_on_it():
    j, i = np.indices((17, 17))
    elevation_m = (100.0 + 3.0 * i - 2.0 * j).astype(np.float32)
    for level in (2, 3, 4):
        for block, lid_m in lids_over_nodes(elevation_m, level):
            assert np.abs(lid_m - block).max() < ONE_TENTH_MILLIMETRE


def test_the_top_is_one_block_over_the_whole_grid():
    pyramid = build_pyramid(np.zeros((70, 130), dtype=np.float32))
    assert 1 << pyramid.top >= 129 > 1 << (pyramid.top - 1)


def test_lids_over_an_unknown_block_lie_below_any_ground():
    elevation_m = np.zeros((9, 9), dtype=np.float32)
    elevation_m[:5, :5] = np.nan
    pyramid = build_pyramid(elevation_m)
    assert pyramid.lid(2, 0, 0)[0] < -1e20
    for row, column in ((0, 1), (1, 0), (1, 1)):
        assert pyramid.lid(2, row, column)[0] >= 0.0
    assert pyramid.lid(3, 0, 0)[0] >= 0.0


def test_an_infinite_height_counts_as_unknown():
    elevation_m = np.zeros((5, 5), dtype=np.float32)
    elevation_m[2, 2] = np.inf
    pyramid = build_pyramid(elevation_m)
    assert np.isnan(pyramid.nodes[2, 2])
    assert np.isfinite(pyramid.lid(2, 0, 0)).all()


def test_a_grid_without_a_cell_is_refused():
    with pytest.raises(ValueError, match="2 x 2 nodes"):
        build_pyramid(np.zeros((1, 5), dtype=np.float32))


@pytest.mark.parametrize("shape", [(9, 9), (37, 50), (3, 61), (300, 20)])
def test_a_kernel_fetches_the_lids_that_the_pyramid_tells(shape):
    rng = np.random.default_rng(5)
    pyramid = build_pyramid(rng.normal(800.0, 200.0, shape).astype(np.float32))
    held = pyramid.lids.ravel()
    for level in range(FIRST_LEVEL, pyramid.top + 1):
        size = 1 << level
        rows, columns = (-(-(nodes - 1) // size) for nodes in shape)
        # The levels' first rows, as the walk finds them: down, half of it, ...
        first = 2 * pyramid.down - 2 * pyramid.down * (1 << FIRST_LEVEL) // size
        for row in range(rows):
            for column in range(columns):
                place = np.full(8, float((first + row) * pyramid.across + column))
                found = np.empty((3, 8))
                fetched(held, place, found)
                told = pyramid.lid(level, row, column)
                assert np.array_equal(found, np.repeat([told], 8, axis=0).T)


@numba.njit(error_model="numpy")
def fetched(lids, places, found):
    """Fill height and slopes of eight lids."""
    height, along, up = fetch_lids(lids, load(places))
    store(height, found[0])
    store(along, found[1])
    store(up, found[2])
