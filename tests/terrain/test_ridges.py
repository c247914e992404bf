from __future__ import annotations

import numpy as np
import pytest

from wherestood.earth.frame import Frame
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain
from wherestood.terrain.ridges import ridge_lines

CELL_M = 30.0
# float32 heights of some hundred metres, a kilometre away.
ROUNDING = 1e-7
LENS_M = 10.0
STATION = (np.array([300.0]), np.array([600.0]), np.array([LENS_M]))
EAST = np.radians([90.0])


def model_of(ground):
    heights = np.asarray(ground, dtype=np.float32)
    return HorizonModel.of(
        Terrain(heights, 0.0, 0.0, CELL_M, Frame.local(7, 46), refraction=1.0)
    )


def walls(*columns_and_heights):
    """Return a plain with north-south walls, one column wide at the crest."""
    ground = np.zeros((41, 400))
    for column, height_m in columns_and_heights:
        ground[:, column] = height_m
    return ground


def away_m(column):
    return column * CELL_M - STATION[0][0]


def test_a_ridge_before_a_higher_one_is_an_edge():
    found = ridge_lines(model_of(walls((50, 60.0), (200, 400.0))), *STATION, EAST)
    assert found.tangent[0, 0, 0] == pytest.approx(50.0 / away_m(50), abs=ROUNDING)
    assert found.distance_m[0, 0, 0] == pytest.approx(away_m(50), abs=1e-3)
    # The plain in between stays hidden: the far wall rises above the near one's edge
    # on its near face, one cell wide.
    assert away_m(199) < found.behind_m[0, 0, 0] < away_m(200)
    assert np.isnan(found.tangent[0, 0, 1:]).all()


def test_ground_appears_where_the_sight_line_over_the_edge_meets_it():
    """The sight line rises 50 m in 1200 m; the far wall's face 400 m in 30 m."""
    found = ridge_lines(model_of(walls((50, 60.0), (200, 400.0))), *STATION, EAST)
    slope = 50.0 / away_m(50)
    face = 400.0 / CELL_M
    expected_m = (LENS_M + face * away_m(199)) / (face - slope)
    assert found.behind_m[0, 0, 0] == pytest.approx(expected_m, abs=1e-2)


def test_three_ridges_show_two_edges_nearest_first():
    ground = walls((40, 30.0), (100, 120.0), (300, 700.0))
    found = ridge_lines(model_of(ground), *STATION, EAST)
    assert found.distance_m[0, 0, :2] == pytest.approx(
        [away_m(40), away_m(100)], abs=1e-3
    )
    assert found.tangent[0, 0, 0] < found.tangent[0, 0, 1]
    assert np.isnan(found.tangent[0, 0, 2])


def test_a_lower_ridge_behind_hides_and_shows_nothing():
    found = ridge_lines(model_of(walls((50, 60.0), (200, 200.0))), *STATION, EAST)
    assert np.isnan(found.tangent).all()


def test_the_horizon_itself_is_no_edge():
    found = ridge_lines(model_of(walls((50, 60.0))), *STATION, EAST)
    assert np.isnan(found.tangent).all()


def test_a_ridge_close_behind_another_makes_no_edge():
    model = model_of(walls((100, 100.0), (110, 140.0)))
    ratio = away_m(110) / away_m(100)
    for farther_by, edges in ((ratio * 1.01, 0), (ratio * 0.98, 1)):
        found = ridge_lines(model, *STATION, EAST, farther_by=farther_by)
        assert np.isfinite(found.tangent).sum() == edges


def test_a_ridge_that_barely_shows_makes_no_edge():
    just_m = LENS_M + 50.0 / away_m(50) * away_m(200)
    for above_m, edges in ((2.0, 0), (12.0, 1)):
        model = model_of(walls((50, 60.0), (200, just_m + above_m)))
        found = ridge_lines(model, *STATION, EAST, higher_by=1e-3)
        assert np.isfinite(found.tangent).sum() == edges


def test_the_edges_kept_are_those_of_the_greatest_jump():
    ground = walls((40, 30.0), (60, 60.0), (300, 700.0))
    both = ridge_lines(model_of(ground), *STATION, EAST, most=2)
    one = ridge_lines(model_of(ground), *STATION, EAST, most=1)
    assert both.distance_m[0, 0] == pytest.approx([away_m(40), away_m(60)], abs=1e-3)
    assert one.distance_m[0, 0] == pytest.approx([away_m(60)], abs=1e-3)


def test_a_convex_hill_in_plain_sight_has_no_edge():
    column = np.arange(400.0)
    ground = np.tile(0.004 * np.maximum(column - 20.0, 0.0) ** 2, (41, 1))
    found = ridge_lines(model_of(ground), *STATION, EAST)
    assert np.isnan(found.tangent).all()


def test_edges_lie_below_the_horizon_on_rough_ground():
    rng = np.random.default_rng(8)
    ground = np.cumsum(np.cumsum(rng.normal(0, 1.0, (200, 200)), 0), 1)
    ground = 300.0 * (ground - ground.min()) / np.ptp(ground)
    ground += rng.uniform(0.0, 20.0, ground.shape)
    model = model_of(ground)
    place = (np.array([3000.0]), np.array([3000.0]), np.array([ground[100, 100] + 20]))
    bearings_rad = np.radians(np.arange(0.0, 360.0, 1.0))
    found = ridge_lines(model, *place, bearings_rad)
    top = model.horizons(*place, bearings_rad)
    seen = np.isfinite(found.tangent[0])
    assert seen.sum() > 100
    below = top.tangent[0][:, None] - found.tangent[0]
    assert np.all(below[seen] > 1e-3)
    nearer = found.distance_m[0] < top.distance_m[0][:, None]
    assert np.all(nearer[seen])
    assert np.all((found.behind_m >= 1.2 * found.distance_m)[0][seen])


def test_an_edge_is_the_horizon_of_the_ground_up_to_it():
    rng = np.random.default_rng(9)
    ground = np.cumsum(rng.normal(0, 6.0, (200, 200)), 1)
    model = model_of(ground)
    place = (np.array([3000.0]), np.array([3000.0]), np.array([ground[100, 100] + 15]))
    bearings_rad = np.radians(np.arange(0.0, 360.0, 7.0))
    found = ridge_lines(model, *place, bearings_rad)
    checked = 0
    for k, bearing in enumerate(bearings_rad):
        for edge in np.flatnonzero(np.isfinite(found.tangent[0, k])):
            # Just short of what shows behind, nothing stands higher than the edge.
            upto = model.horizons(
                *place,
                np.array([bearing]),
                farthest_m=float(found.behind_m[0, k, edge]) - 0.01,
            )
            assert upto.tangent[0, 0] == pytest.approx(
                found.tangent[0, k, edge], abs=ROUNDING
            )
            checked += 1
    assert checked > 20


def test_a_station_without_a_place_shows_no_edge():
    model = model_of(walls((50, 60.0), (200, 400.0)))
    nowhere = np.array([np.nan])
    found = ridge_lines(model, nowhere, nowhere, nowhere, EAST)
    assert np.isnan(found.distance_m).all()


@pytest.mark.parametrize(
    ("options", "word"),
    [
        ({"most": 0}, "most"),
        ({"farther_by": 0.5}, "farther_by"),
        ({"nearest_m": 0}, "0 m"),
    ],
)
def test_limits_that_make_no_sense_are_refused(options, word):
    with pytest.raises(ValueError, match=word):
        ridge_lines(model_of(walls((50, 60.0))), *STATION, EAST, **options)
