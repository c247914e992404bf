from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wherestood.evidence.directions import directions, mark_directions
from wherestood.evidence.items import Mark
from wherestood.evidence.placed import Candidates, PlacedFeature, Placement
from wherestood.evidence.stations import Stations

STATIONS = Stations(
    np.array([0.0, 300.0]), np.array([0.0, -200.0]), np.array([400.0, 520.0])
)
POINTS = Candidates(
    ("a", "b"),
    ("", ""),
    np.array([1200.0, -2500.0]),
    np.array([800.0, 4000.0]),
    np.array([900.0, 450.0]),
    np.array([0.5, 0.5]),
    np.array([20.0, 40.0]),
    np.array([0.0, 30.0]),
    np.array([5.0, 3.0]),
    np.array([0.3, 0.0]),
    np.array([-0.1, 0.0]),
)
STEP_M = 1e-2
# Central differences over a centimetre are good to the square of step over distance.
DIFFERENCES = 1e-6
# 200 000 draws give an sd to a part in 600, bending of the bearing aside.
SAMPLING = 0.01


def moved(east: float = 0.0, north: float = 0.0, lens: float = 0.0) -> Stations:
    return replace(
        STATIONS,
        east_m=STATIONS.east_m + east,
        north_m=STATIONS.north_m + north,
        lens_m=STATIONS.lens_m + lens,
    )


@pytest.mark.parametrize(
    ("value", "slope", "step"),
    [
        ("azimuth_rad", "azimuth_by_east", {"east": STEP_M}),
        ("azimuth_rad", "azimuth_by_north", {"north": STEP_M}),
        ("tangent", "tangent_by_east", {"east": STEP_M}),
        ("tangent", "tangent_by_north", {"north": STEP_M}),
        ("tangent", "tangent_by_lens", {"lens": STEP_M}),
    ],
)
def test_derivatives_are_those_of_finite_differences(
    value: str, slope: str, step: dict[str, float]
) -> None:
    back = {name: -size for name, size in step.items()}
    ahead = getattr(directions(moved(**step), POINTS), value)
    behind = getattr(directions(moved(**back), POINTS), value)
    expected = (ahead - behind) / (2.0 * STEP_M)
    found = getattr(directions(STATIONS, POINTS), slope)
    np.testing.assert_allclose(found, expected, rtol=DIFFERENCES)


def test_derivative_with_refraction_is_that_of_finite_differences() -> None:
    step = 1e-3
    ahead = directions(replace(STATIONS, refraction=0.13 + step), POINTS).tangent
    behind = directions(replace(STATIONS, refraction=0.13 - step), POINTS).tangent
    found = directions(STATIONS, POINTS).tangent_by_refraction
    np.testing.assert_allclose(found, (ahead - behind) / (2.0 * step), rtol=1e-9)


def test_distant_point_sinks_by_curvature_less_refraction() -> None:
    far = replace(POINTS, north_m=np.full(2, 10_000.0), east_m=np.zeros(2))
    level = replace(STATIONS, east_m=np.zeros(2), north_m=np.zeros(2))
    level = replace(level, lens_m=np.zeros(2))
    found = directions(level, replace(far, height_m=np.zeros(2)))
    # (1 - 0.13) d^2 / 2R = 6.83 m at 10 km.
    np.testing.assert_allclose(found.tangent * 10_000.0, -6.83, atol=0.01)


def test_errors_are_those_of_drawn_places_and_heights() -> None:
    draw = np.random.default_rng(5)
    count = 200_000
    for column in range(2):
        s = np.hypot(POINTS.sd_m[column], POINTS.shift_sd_m[column])
        east, north = draw.normal(0.0, s, (2, count))
        slope = POINTS.slope_east[column] * east + POINTS.slope_north[column] * north
        heights = draw.normal(
            POINTS.height_m[column], POINTS.height_sd_m[column], count
        )
        each = Candidates(
            ("x",) * count,
            ("",) * count,
            POINTS.east_m[column] + east,
            POINTS.north_m[column] + north,
            heights + slope,
            *[np.zeros(count)] * 6,
        )
        drawn = directions(STATIONS.part(slice(1)), each)
        found = directions(STATIONS, POINTS)
        sd_azimuth = found.sd_azimuth_rad[0, column]
        sd_tangent = found.sd_tangent[0, column]
        assert drawn.azimuth_rad.std() == pytest.approx(sd_azimuth, rel=SAMPLING)
        assert drawn.tangent.std() == pytest.approx(sd_tangent, rel=SAMPLING)
        together = np.cov(drawn.azimuth_rad[0], drawn.tangent[0])[0, 1]
        assert together == pytest.approx(
            found.covariance[0, column], abs=SAMPLING * sd_azimuth * sd_tangent
        )


def test_bearing_to_a_feature_underfoot_may_be_any() -> None:
    here = replace(STATIONS, east_m=POINTS.east_m, north_m=POINTS.north_m)
    sd = np.diagonal(directions(here, POINTS).sd_azimuth_rad)
    np.testing.assert_allclose(sd, np.pi / np.sqrt(3.0), rtol=1e-6)


def test_marks_with_fewer_candidates_are_filled_with_weight_nought() -> None:
    one = np.ones(1)
    features = {
        name: PlacedFeature(
            name,
            "",
            east * one,
            900.0 * one,
            one,
            1.0,
            0.0,
            one,
            one,
            one,
            1.0,
            0.0,
            1.0,
        )
        for name, east in (("a", 10.0), ("b", 400.0))
    }
    marks = (Mark(1.0, 1.0, "a", id="M"), Mark(1.0, 1.0, {"a": 1, "b": 3}, id="N"))
    placement = Placement(features, {mark.id: mark for mark in marks})
    found = mark_directions(STATIONS, marks, placement)
    assert found.directions.azimuth_rad.shape == (2, 2, 2)
    np.testing.assert_allclose(found.weight, [[1.0, 0.0], [0.25, 0.75]])
    assert found.feature_ids == (("a", ""), ("a", "b"))
    np.testing.assert_allclose(
        found.directions.azimuth_rad[0, 1], [np.arctan2(10, 900), np.arctan2(400, 900)]
    )
    assert np.isfinite(found.directions.tangent).all()


def test_no_marks_make_no_directions() -> None:
    found = mark_directions(STATIONS, (), Placement({}, {}))
    assert found.directions.tangent.shape == (2, 0, 0)
