from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from wherestood.earth.frame import Frame
from wherestood.errors import EvidenceError
from wherestood.evidence.items import Evidence, Feature, Mark
from wherestood.evidence.layout import laid_out
from wherestood.evidence.placed import known_heights, place_evidence, place_feature
from wherestood.terrain.model import Terrain

FRAME = Frame.local(8.5, 46.1)
#: Heights are kept as 32-bit numbers.
ONE_MILLIMETRE = 1e-3
# A line of the frame bends against longitude and latitude by far less than this.
ONE_CENTIMETRE = 0.01


def outside(geometry: BaseGeometry) -> BaseGeometry:
    """Return a geometry of the frame in longitude and latitude."""

    def unproject(points: np.ndarray) -> np.ndarray:
        return np.column_stack(FRAME.to_lonlat(points[:, 0], points[:, 1]))

    moved: BaseGeometry = shapely.transform(geometry, unproject)
    return moved


def slope() -> Terrain:
    """Return a plane that rises 0.2 to the east and 0.1 to the north."""
    rows, columns = np.mgrid[0:101, 0:101]
    heights = (100.0 + 0.2 * 20.0 * columns + 0.1 * 20.0 * rows).astype(np.float32)
    return Terrain(heights, -1000.0, -1000.0, 20.0, FRAME)


def test_foot_stands_on_the_terrain_with_its_slope() -> None:
    feature = Feature(outside(shapely.Point(100.0, 50.0)), id="f", sd_m=5.0)
    placed = place_feature(feature, FRAME, slope())
    expected_m = 100.0 + 0.2 * 1100.0 + 0.1 * 1050.0
    np.testing.assert_allclose(placed.foot_m, expected_m, atol=ONE_MILLIMETRE)
    np.testing.assert_allclose(placed.slope_east, 0.2, atol=1e-4)
    np.testing.assert_allclose(placed.slope_north, 0.1, atol=1e-4)


def test_given_height_goes_before_the_terrain() -> None:
    feature = Feature((8.5, 46.1), id="f", height_m=777.0, height_sd_m=2.0)
    placed = place_feature(feature, FRAME, slope())
    assert placed.foot_m[0] == 777.0
    assert placed.foot_sd_m == 2.0
    assert placed.slope_east[0] == 0.0


def test_foot_is_unknown_off_the_terrain_and_without_it() -> None:
    feature = Feature(outside(shapely.Point(5000.0, 0.0)), id="f")
    assert np.isnan(place_feature(feature, FRAME, slope()).foot_m).all()
    assert np.isnan(place_feature(feature, FRAME).foot_m).all()


def test_top_stands_above_the_foot_with_both_errors() -> None:
    feature = Feature(
        (8.5, 46.1),
        id="f",
        height_m=100.0,
        height_sd_m=3.0,
        object_height_m=20.0,
        object_height_sd_m=4.0,
    )
    placement = place_evidence(Evidence(features=(feature,)), FRAME)
    assert placement.candidates("f", "ground").height_m[0] == 100.0
    top = placement.candidates("f", "top")
    assert top.height_m[0] == 120.0
    assert top.height_sd_m[0] == pytest.approx(5.0)


def test_line_is_laid_out_evenly_by_length() -> None:
    line = shapely.MultiLineString([[(0, 0), (300, 0)], [(1000, 0), (1000, 100)]])
    points, weight, step_m = laid_out(line, 10.0)
    assert weight.sum() == pytest.approx(1.0)
    on_first = points[:, 0] < 500.0
    assert weight[on_first].sum() == pytest.approx(0.75)
    assert points[on_first, 0].mean() == pytest.approx(150.0)
    assert step_m == pytest.approx(300.0 / 18.0)


def test_area_is_covered_evenly() -> None:
    points, weight, _ = laid_out(shapely.box(0.0, 0.0, 200.0, 100.0), 5.0)
    assert weight.sum() == pytest.approx(1.0)
    np.testing.assert_allclose(weight @ points, (100.0, 50.0), atol=10.0)
    # Variance of what is uniform over 200 m, from points and what each stands for.
    assert len(points) <= 32


def test_sliver_of_an_area_is_one_doubtful_point() -> None:
    sliver = shapely.Polygon([(0, 0), (100, 0.1), (100, 0.2)])
    points, weight, step_m = laid_out(sliver, 5.0)
    assert len(points) == len(weight) == 1
    assert step_m == pytest.approx(100.0)


def test_point_of_a_line_is_as_doubtful_as_its_stretch() -> None:
    line = Feature(outside(shapely.LineString([(0, 0), (2400, 0)])), id="l", sd_m=1.0)
    placed = place_feature(line, FRAME)
    assert placed.sd_m == pytest.approx(np.hypot(1.0, 100.0 / np.sqrt(12.0)), rel=1e-4)


def test_mark_of_several_features_holds_all_their_points() -> None:
    features = (
        Feature((8.5, 46.1), id="a", height_m=1.0),
        Feature((8.6, 46.1), id="b", height_m=2.0, object_height_m=8.0),
    )
    mark = Mark(1.0, 1.0, {"a": 3.0, "b": 1.0}, at="top", id="M")
    placement = place_evidence(Evidence(features=features, marks=(mark,)), FRAME)
    points = placement.candidates("M")
    assert points.feature_ids == ("a", "b")
    np.testing.assert_allclose(points.weight, (0.75, 0.25))
    # The mark's own end goes before what is asked for.
    assert points.height_m[1] == 10.0


def test_name_that_is_nothing_is_refused() -> None:
    with pytest.raises(EvidenceError, match="nothing"):
        place_evidence(Evidence(), FRAME).candidates("nothing")


def test_places_come_back_from_longitude_and_latitude() -> None:
    feature = Feature(outside(shapely.Point(2500.0, -1700.0)), id="f")
    placed = place_feature(feature, FRAME)
    found = (placed.east_m[0], placed.north_m[0])
    np.testing.assert_allclose(found, (2500.0, -1700.0), atol=ONE_CENTIMETRE)


def test_terrain_knows_heights_on_its_grid_alone() -> None:
    lon, lat = FRAME.to_lonlat(np.array([0.0, 5000.0]), np.array([0.0, 0.0]))
    assert known_heights(slope())(lon, lat).tolist() == [True, False]
