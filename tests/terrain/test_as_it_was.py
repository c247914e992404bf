from __future__ import annotations

import numpy as np
import pytest
import shapely

from wherestood.earth.frame import Frame
from wherestood.errors import TerrainError
from wherestood.terrain.as_it_was import GroundChange, ground_as_it_was
from wherestood.terrain.model import Terrain

CELL_M = 10.0
# Heights are float32: of a few hundred metres good to 3e-5 m.
ONE_MILLIMETRE = 1e-3
SQUARE = shapely.box(95.0, 195.0, 205.0, 305.0)  # columns 10 to 20, rows 20 to 30


def land(elevation_m=None, **more):
    if elevation_m is None:
        j, i = np.indices((60, 50))
        elevation_m = 300.0 + 2.0 * i - 1.5 * j
    return Terrain(
        np.asarray(elevation_m, dtype=np.float32),
        0.0,
        0.0,
        CELL_M,
        Frame.local(8.5, 46.1),
        **more,
    )


def changed(kind, amount_m=0.0, sd_m=2.0, chance=1.0, shape=SQUARE, **more):
    name = more.pop("name", kind)
    return GroundChange(name, shape, kind, amount_m, sd_m, chance, **more)


INSIDE = (slice(20, 31), slice(10, 21))


def outside_is_as_it_was(before, after):
    mask = np.ones(before.elevation_m.shape, dtype=bool)
    mask[INSIDE] = False
    return np.array_equal(before.elevation_m[mask], after.elevation_m[mask])


@pytest.mark.parametrize("amount_m", [25.0, -12.0])
def test_raised_ground_is_higher_by_as_much_inside_the_outline_alone(amount_m):
    terrain = land()
    kind = "raise" if amount_m > 0 else "lower"
    ground = ground_as_it_was(terrain, [changed(kind, amount_m)])
    after = ground.terrain
    rise = after.elevation_m[INSIDE] - terrain.elevation_m[INSIDE]
    assert np.abs(rise - amount_m).max() < ONE_MILLIMETRE
    assert outside_is_as_it_was(terrain, after)
    assert np.all(ground.doubt_m[INSIDE] == np.float32(2.0))
    assert ground.doubt_m.sum() == pytest.approx(2.0 * 121)


def test_flattened_ground_is_level_and_flooded_ground_is_water():
    terrain = land()
    flat = ground_as_it_was(terrain, [changed("flatten", 310.0)]).terrain
    assert np.abs(flat.elevation_m[INSIDE] - 310.0).max() < ONE_MILLIMETRE
    assert flat.water is None
    water = ground_as_it_was(terrain, [changed("flood", 310.0)]).terrain
    assert np.array_equal(water.elevation_m, flat.elevation_m)
    assert water.water[INSIDE].all()
    assert water.water.sum() == 121


def test_flooding_keeps_the_water_that_was_known():
    known = np.zeros((60, 50), dtype=bool)
    known[:3] = True
    after = ground_as_it_was(land(water=known), [changed("flood", 310.0)]).terrain
    assert after.water[:3].all()
    assert after.water.sum() == 121 + 150
    assert known.sum() == 150


def test_a_heap_on_a_slope_is_cut_to_the_slope():
    """A plane is its own skin: what stood on it inside the outline is gone."""
    slope = land()
    heaped = slope.elevation_m.copy()
    heaped[22:28, 12:18] += 40.0
    heaped[25, 15] -= 90.0
    after = ground_as_it_was(land(heaped), [changed("cut")]).terrain
    assert np.abs(after.elevation_m - slope.elevation_m).max() < ONE_MILLIMETRE


def test_a_cut_at_the_grids_edge_rests_on_the_edges_it_has():
    level = land(np.full((60, 50), 200.0))
    bumped = level.elevation_m.copy()
    bumped[0:5, 0:5] += 30.0
    corner = shapely.box(-5.0, -5.0, 45.0, 45.0)
    after = ground_as_it_was(land(bumped), [changed("cut", shape=corner)]).terrain
    assert np.abs(after.elevation_m - 200.0).max() < ONE_MILLIMETRE


def test_a_cut_with_no_ground_about_it_is_refused():
    whole = shapely.box(-5.0, -5.0, 1e4, 1e4)
    with pytest.raises(TerrainError, match="'pit' has no known ground about it"):
        ground_as_it_was(land(), [changed("cut", shape=whole, name="pit")])


def test_ground_that_may_have_been_is_taken_in_between_and_is_doubtful():
    """Mean and sd of 30 m with 1 in 3, else nothing: 10 m and 30 sqrt(2)/3 m."""
    terrain = land()
    ground = ground_as_it_was(terrain, [changed("raise", 30.0, 0.001, 1.0 / 3.0)])
    rise = ground.terrain.elevation_m[INSIDE] - terrain.elevation_m[INSIDE]
    assert np.abs(rise - 10.0).max() < ONE_MILLIMETRE
    expected_m = 30.0 * np.sqrt(2.0) / 3.0
    assert ground.doubt_m[INSIDE] == pytest.approx(expected_m, abs=ONE_MILLIMETRE)


def test_little_trust_widens_the_doubt_and_moves_no_ground():
    """In full, but one time in five nothing of it: sd 20 sqrt(0.2) m."""
    terrain = land()
    told = changed("raise", 20.0, 0.001, trust=0.8)
    ground = ground_as_it_was(terrain, [told])
    rise = ground.terrain.elevation_m[INSIDE] - terrain.elevation_m[INSIDE]
    assert np.abs(rise - 20.0).max() < ONE_MILLIMETRE
    expected_m = 20.0 * np.sqrt(0.2)
    assert ground.doubt_m[INSIDE] == pytest.approx(expected_m, abs=ONE_MILLIMETRE)


def test_states_of_which_one_held_for_certain_leave_only_what_they_differ_by():
    """Half 10 m, half 14 m, never both: mean 12 m, sd 2 m."""
    terrain = land()
    one = changed("raise", 10.0, 1e-6, 0.5, name="a", excludes=frozenset({"b"}))
    other = changed("raise", 14.0, 1e-6, 0.5, name="b", excludes=frozenset({"a"}))
    ground = ground_as_it_was(terrain, [one, other])
    rise = ground.terrain.elevation_m[INSIDE] - terrain.elevation_m[INSIDE]
    assert np.abs(rise - 12.0).max() < ONE_MILLIMETRE
    assert ground.doubt_m[INSIDE] == pytest.approx(2.0, abs=ONE_MILLIMETRE)
    apart = ground_as_it_was(terrain, [changed("raise", 10.0, 1e-6, 0.5), other])
    assert np.all(apart.doubt_m[INSIDE] > 8.0)


def test_trees_raise_what_is_seen_and_not_what_one_stands_on():
    terrain = land()
    ground = ground_as_it_was(terrain, [changed("cover", 15.0)])
    assert np.array_equal(ground.standing.elevation_m, terrain.elevation_m)
    rise = ground.terrain.elevation_m[INSIDE] - terrain.elevation_m[INSIDE]
    assert np.abs(rise - 15.0).max() < ONE_MILLIMETRE


def test_unknown_ground_stays_unknown():
    heights = land().elevation_m.copy()
    heights[22:25, 12:14] = np.nan
    terrain = land(heights)
    for kind in ("raise", "flatten", "cut", "flood"):
        after = ground_as_it_was(terrain, [changed(kind, 310.0)])
        assert np.array_equal(np.isnan(after.terrain.elevation_m), np.isnan(heights))
        assert np.isfinite(after.doubt_m).all()


@pytest.mark.parametrize(
    "shape",
    [shapely.box(112.0, 212.0, 118.0, 218.0), shapely.box(5e3, 5e3, 6e3, 6e3)],
    ids=["between nodes", "off the grid"],
)
@pytest.mark.parametrize("kind", ["raise", "cut", "flood"])
def test_an_outline_without_a_node_changes_nothing(shape, kind):
    terrain = land()
    ground = ground_as_it_was(terrain, [changed(kind, 300.0, shape=shape)])
    assert np.array_equal(ground.terrain.elevation_m, terrain.elevation_m)
    assert not ground.reached[0][1].any()


def test_an_outline_over_the_grids_edge_changes_what_lies_on_it():
    terrain = land()
    over = shapely.box(-500.0, -500.0, 14.0, 14.0)
    after = ground_as_it_was(terrain, [changed("raise", 9.0, shape=over)]).terrain
    rise = after.elevation_m - terrain.elevation_m
    assert np.abs(rise[:2, :2] - 9.0).max() < ONE_MILLIMETRE
    assert not rise[2:].any()
    assert not rise[:, 2:].any()


def test_covers_tells_the_points_nearest_to_a_changed_node():
    ground = ground_as_it_was(land(), [changed("raise", 5.0)])
    east_m = np.array([150.0, 94.0, 96.0, 204.9, 206.0, np.nan, -1e6])
    north_m = np.full(7, 250.0)
    told = ground.covers(0, east_m, north_m)
    assert list(told) == [True, False, True, True, False, False, False]
