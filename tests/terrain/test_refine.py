"""Check the refining of a coarse elevation model."""

import numpy as np

from wherestood.earth.frame import Frame
from wherestood.terrain.model import Terrain
from wherestood.terrain.refine import refined

FLOAT32_AT_100_M = 1e-4


def _surface(north_m: np.ndarray, east_m: np.ndarray) -> np.ndarray:
    return 50.0 + 1e-7 * east_m**3 - 2e-7 * north_m**2 * east_m + 0.02 * north_m


def _coarse(**changes) -> Terrain:
    north_m, east_m = np.mgrid[0:12, 0:15] * 90.0
    heights = changes.pop("heights", _surface(north_m, east_m))
    return Terrain(
        elevation_m=heights.astype(np.float32),
        west_m=0.0,
        south_m=0.0,
        cell_m=90.0,
        frame=Frame.local(7.7, 46.9),
        surface="ground",
        **changes,
    )


def test_a_cubic_surface_is_met_exactly_between_the_old_nodes() -> None:
    fine = refined(_coarse(), 30.0)
    north_m, east_m = np.mgrid[0:34, 0:43] * 30.0
    assert (fine.cell_m, fine.source_cell_m) == (30.0, 90.0)
    np.testing.assert_allclose(
        fine.elevation_m, _surface(north_m, east_m), atol=FLOAT32_AT_100_M
    )


def test_a_model_fine_enough_is_left_as_it_is() -> None:
    coarse = _coarse()
    assert refined(coarse, 90.0) is coarse


def test_a_hole_keeps_its_size_and_sea_stays_at_its_level() -> None:
    coarse = _coarse()
    heights = coarse.elevation_m.copy()
    heights[5, 6] = np.nan
    heights[:, :3] = 0.0
    water = np.zeros(heights.shape, dtype=np.bool_)
    water[:, :2] = True
    fine = refined(_coarse(heights=heights, water=water), 45.0)
    # Half a coarse cell all round a node.
    assert np.isnan(fine.elevation_m[10, 12])
    assert np.isnan(fine.elevation_m).sum() <= 9
    assert fine.water is not None
    assert (fine.elevation_m[fine.water] >= 0.0).all()
    np.testing.assert_array_equal(fine.water[::2, ::2], water)
