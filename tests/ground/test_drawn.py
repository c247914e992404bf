"""Test that what is drawn on the plate goes to the map and comes back."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, MultiPoint, Point, Polygon

from wherestood.errors import InputError
from wherestood.ground.drawn import map_shape
from wherestood.ground.mapping import Doubts
from wherestood.ground.on_plate import shown_on_plate
from wherestood.terrain.meet import GROUND, meet_ground

#: One camera carries a shape; the middle of all that show it lies this near.
THREE_STANDARD_ERRORS = 3.0
QUIET = Doubts(reading_sd_px=0.5, terrain_sd_m=0.5)


@pytest.fixture(scope="module")
def mapping(make_mapping):
    return make_mapping(np.random.default_rng(81), doubts=QUIET)


def test_line_drawn_on_the_plate_comes_back_from_the_map(mapping):
    rng = np.random.default_rng(82)
    line = LineString([(1300.0, 1500.0), (1500.0, 1530.0), (1700.0, 1480.0)])
    mapped = map_shape(mapping, line, rng)
    assert mapped.share == 1.0
    assert mapped.flagged == {}
    pieces = shown_on_plate(mapping, mapped.geometry, rng)
    assert pieces
    for piece in pieces:
        assert piece.seen
        away = shapely.distance(line, shapely.points(piece.points_px))
        assert away.max() < THREE_STANDARD_ERRORS * max(piece.sd_px, 1.0)


def test_outline_becomes_a_polygon_and_what_reaches_the_sky_does_not(mapping):
    rng = np.random.default_rng(83)
    low = Polygon([(1400, 1500), (1600, 1500), (1600, 1600), (1400, 1600)])
    field = map_shape(mapping, low, rng)
    assert isinstance(field.geometry, Polygon)
    assert field.geometry.area > 0.0
    assert field.doubt_m > 0.0
    assert field.most_doubt_m >= field.doubt_m
    high = Polygon([(1400, 20), (1600, 20), (1600, 1600), (1400, 1600)])
    part = map_shape(mapping, high, rng)
    assert not isinstance(part.geometry, Polygon)
    assert part.share < 1.0
    assert part.flagged["sky"] > 0


def test_point_on_the_sky_has_no_geometry(mapping):
    mapped = map_shape(mapping, Point(1500.0, 5.0), np.random.default_rng(84))
    assert mapped.geometry is None
    assert mapped.flagged == {"sky": 1}


def test_other_shapes_are_refused_by_name(mapping):
    with pytest.raises(InputError, match="MultiPoint"):
        map_shape(mapping, MultiPoint([(1, 2), (3, 4)]), np.random.default_rng(1))


def test_what_lies_behind_a_hill_is_told_from_what_shows(mapping):
    """A line that runs away from the camera dips behind every crest on its way."""
    rng = np.random.default_rng(85)
    draws = mapping.cameras.draws
    east, north = float(draws.east_m.mean()), float(draws.north_m.mean())
    bearing = float(np.median(draws.bearing_rad))
    away = np.array([400.0, 9000.0])
    line = LineString(
        np.column_stack((east + away * np.sin(bearing), north + away * np.cos(bearing)))
    )
    pieces = shown_on_plate(mapping, line, rng)
    kinds = [piece.seen for piece in pieces]
    assert True in kinds
    assert False in kinds
    # The hidden are hidden by ground that a ray to them meets much nearer.
    hidden = next(piece for piece in pieces if not piece.seen and piece.chance < 0.1)
    middle = hidden.points_px[len(hidden.points_px) // 2]
    b, t = mapping.cameras.directions([middle[0]], [middle[1]])
    met = meet_ground(
        mapping.ground, draws.east_m, draws.north_m, draws.lens_m, b[:, 0], t[:, 0]
    )
    assert np.mean(met.what == GROUND) > 0.9


def test_doubt_of_a_place_widens_what_is_drawn(mapping):
    rng = np.random.default_rng(86)
    field = map_shape(mapping, Point(1500.0, 1500.0), rng)
    sure = shown_on_plate(mapping, field.geometry, rng)
    unsure = shown_on_plate(mapping, field.geometry, rng, sd_m=40.0)
    assert len(sure) == len(unsure) == 1
    assert unsure[0].sd_px > 2.0 * sure[0].sd_px
    raised = shown_on_plate(mapping, field.geometry, rng, above_m=10.0)
    assert raised[0].points_px[0, 1] < sure[0].points_px[0, 1]


def test_what_is_behind_the_camera_is_not_drawn(mapping):
    rng = np.random.default_rng(87)
    draws = mapping.cameras.draws
    back = float(np.median(draws.bearing_rad)) + np.pi
    at = Point(
        float(draws.east_m.mean()) + 800 * np.sin(back),
        float(draws.north_m.mean()) + 800 * np.cos(back),
    )
    assert shown_on_plate(mapping, at, rng) == []
