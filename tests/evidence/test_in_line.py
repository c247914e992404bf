from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from wherestood.camera.priors import camera_prior
from wherestood.evidence.in_line import BLUNDER_SPAN_RAD, weigh_in_line
from wherestood.evidence.in_lines_together import in_line_residuals, weigh_in_lines
from wherestood.evidence.information import position_information
from wherestood.evidence.items import InLine, Mark
from wherestood.evidence.lean import Lean
from wherestood.evidence.placed import PlacedFeature, Placement
from wherestood.evidence.stations import Stations

LEAN = Lean.of(camera_prior(4000, 3000, trimmed=False))
NOTHING = 1e-9
#: Readings are weighed every tenth of a degree, the noise is 0.3 or more.
DENSITY = 1e-3
# 20 000 draws show a share of 0.9 to 0.006, three sd.
SHARE = 0.0065


def feature(
    name: str,
    east_m: float,
    north_m: float,
    sd_m: float = 5.0,
    plan: str = "",
    shift_sd_m: float = 0.0,
) -> PlacedFeature:
    one = np.ones(1)
    return PlacedFeature(
        name,
        plan,
        east_m * one,
        north_m * one,
        one,
        sd_m,
        shift_sd_m,
        100.0 * one,
        0.0 * one,
        0.0 * one,
        3.0,
        8.0,
        2.0,
    )


def ground(*features: PlacedFeature, marks: tuple[Mark, ...] = ()) -> Placement:
    return Placement({f.id: f for f in features}, {mark.id: mark for mark in marks})


def at(*places: tuple[float, float], side_m: float = 0.0) -> Stations:
    east, north = np.array(places, dtype=np.float64).T
    return Stations(east, north, np.full(len(places), 100.0), side_m=side_m)


@pytest.mark.parametrize("near_m", [1000.0, 30.0, 3.0])
def test_readings_at_a_station_have_density_one(near_m: float) -> None:
    placement = ground(feature("a", 0.0, near_m), feature("b", 300.0, 3000.0))
    readings = np.arange(-180.0, 180.0, 0.1)
    item = InLine("a", "b", trust=1.0)
    total = sum(
        math.exp(
            weigh_in_line(
                replace(item, left_deg=float(left)), placement, at((0.0, 0.0)), LEAN
            ).log_likelihood[0]
        )
        for left in readings
    )
    assert total * math.radians(0.1) == pytest.approx(1.0, abs=DENSITY)


def test_a_blunder_costs_no_more_than_its_odds() -> None:
    placement = ground(feature("a", 0.0, 1000.0), feature("b", 0.0, 3000.0))
    far_off = weigh_in_line(InLine("a", "b"), placement, at((900.0, 1500.0)), LEAN)
    floor = math.log(0.05 / BLUNDER_SPAN_RAD)
    assert far_off.log_likelihood[0] == pytest.approx(floor, abs=NOTHING)
    assert far_off.blunder[0] == pytest.approx(1.0)
    on_line = weigh_in_line(InLine("a", "b"), placement, at((0.0, 0.0)), LEAN)
    assert on_line.blunder[0] < 0.01


def test_a_is_left_of_b_by_a_positive_angle() -> None:
    placement = ground(feature("a", 0.0, 1000.0), feature("b", 1000.0, 1000.0))
    stations = at((0.0, 0.0))
    right, wrong = (
        weigh_in_line(InLine("a", "b", left_deg=left), placement, stations, LEAN)
        for left in (45.0, -45.0)
    )
    assert right.log_likelihood[0] > wrong.log_likelihood[0] + 5.0


def test_variance_is_that_of_drawn_features_with_a_shared_shift() -> None:
    draw = np.random.default_rng(3)
    count = 100_000
    placed = [
        feature("a", 200.0, 900.0, 4.0, "plan", 10.0),
        feature("b", -300.0, 1500.0, 6.0, "plan", 10.0),
    ]
    shift = draw.normal(0.0, 10.0, (2, count))
    azimuths = []
    for one in placed:
        east, north = draw.normal(0.0, one.sd_m, (2, count)) + shift
        azimuths.append(np.arctan2(one.east_m + east, one.north_m + north))
    reading = math.radians(0.05)
    expected = math.hypot((azimuths[1] - azimuths[0]).std(), reading)
    residuals = in_line_residuals(
        [InLine("a", "b")], ground(*placed), at((0.0, 0.0)), LEAN
    )
    assert math.sqrt(residuals.covariance[0, 0, 0]) == pytest.approx(expected, rel=0.01)


def test_shift_of_one_plan_cancels_between_things_side_by_side() -> None:
    def noise(plan_b: str) -> float:
        placement = ground(
            feature("a", 0.0, 1000.0, 0.1, "one", 20.0),
            feature("b", 1.0, 1000.0, 0.1, plan_b, 20.0),
        )
        items = [InLine("a", "b", sd_deg=1e-6)]
        residuals = in_line_residuals(items, placement, at((0.0, 0.0)), LEAN)
        return math.sqrt(residuals.covariance[0, 0, 0])

    assert noise("one") < 0.01 * noise("two")


def test_gap_of_thirty_millimetres_adds_what_the_lean_makes() -> None:
    """DESIGN's example: 1.5 deg of roll over 30 mm at c = 250 mm is 0.18 deg."""
    lean = Lean(1000.0, 300.0, 2500.0, 0.0, math.radians(1.5), 0.0)
    assert math.degrees(lean.sideways_sd_rad(1.0)) == pytest.approx(0.18, abs=1e-9)


def test_lean_grows_off_the_axis_by_the_tilt() -> None:
    lean = Lean(1000.0, 1000.0, 1000.0, 0.0, 0.02, 0.03)
    assert lean.sideways_sd_rad(0.1, 500.0) == pytest.approx(0.1 * 0.02)
    edge = 0.1 * math.hypot(0.02, 0.03 * 0.5)
    assert lean.sideways_sd_rad(0.1, 1000.0) == pytest.approx(edge)


def test_gap_is_taken_from_the_marks() -> None:
    marks = (
        Mark(2000.0, 500.0, "a", id="A"),
        Mark(2000.0, 2000.0, "b", id="B"),
    )
    placement = ground(
        feature("a", 0.0, 1000.0, 0.01), feature("b", 0.0, 3000.0, 0.01), marks=marks
    )
    item = InLine("A", "B", touching=False)
    found = in_line_residuals([item], placement, at((0.0, 0.0)), LEAN).covariance
    expected = math.hypot(math.radians(0.05), LEAN.sideways_sd_rad(0.5, 2000.0))
    assert math.sqrt(found[0, 0, 0]) == pytest.approx(expected, rel=1e-3)


def test_spacing_in_widths_has_the_mean_and_spread_of_drawn_cameras() -> None:
    draw = np.random.default_rng(8)
    w = LEAN.width_over_distance * np.exp(
        draw.normal(0.0, LEAN.ln_distance_sd, 200_000)
    )
    s = 0.02
    middle = draw.uniform(-0.5, 0.5, w.size)
    angles = np.arctan((middle + s / 2) * w) - np.arctan((middle - s / 2) * w)
    mean, sd = LEAN.angle_of_widths(s)
    # One normal stands for a skewed spread: to a tenth.
    assert mean == pytest.approx(np.median(angles), rel=0.1)
    assert sd == pytest.approx(angles.std(), rel=0.2)


def test_line_is_weighed_as_the_mean_over_its_points() -> None:
    road = replace(
        feature("road", 0.0, 0.0),
        east_m=np.linspace(-500.0, 500.0, 21),
        north_m=np.full(21, 2000.0),
        weight=np.full(21, 1.0 / 21.0),
        foot_m=np.full(21, 100.0),
        slope_east=np.zeros(21),
        slope_north=np.zeros(21),
        sd_m=20.0,
    )
    chimney = feature("chimney", 0.0, 500.0)
    whole = weigh_in_line(
        InLine("chimney", "road", trust=1.0),
        ground(road, chimney),
        at((0.0, 0.0)),
        LEAN,
    )
    each = [
        weigh_in_line(
            InLine("chimney", "p", trust=1.0),
            ground(feature("p", float(east), 2000.0, 20.0), chimney),
            at((0.0, 0.0)),
            LEAN,
        ).log_likelihood[0]
        for east in road.east_m
    ]
    expected = math.log(np.mean(np.exp(each)))
    assert whole.log_likelihood[0] == pytest.approx(expected, abs=NOTHING)


def test_cell_is_averaged_over() -> None:
    placement = ground(feature("a", 0.0, 800.0, 2.0), feature("b", 50.0, 2500.0, 2.0))
    item = InLine("a", "b", trust=1.0)
    side_m = 12.0
    steps = (np.arange(40) + 0.5) / 40.0 - 0.5
    east, north = (side_m * part.ravel() for part in np.meshgrid(steps, steps))
    fine = Stations(east - 20.0, north, np.zeros(east.size))
    dense = np.exp(weigh_in_line(item, placement, fine, LEAN).log_likelihood).mean()
    cell = weigh_in_line(item, placement, at((-20.0, 0.0), side_m=side_m), LEAN)
    # A normal stands for what is uniform: to a tenth where the cell is no wider than
    # the noise.
    assert math.exp(cell.log_likelihood[0]) == pytest.approx(dense, rel=0.1)


def three_lines(sd_m: float) -> tuple[list[InLine], list[PlacedFeature]]:
    """Return three in lines that all lean on one spire."""
    items = [InLine("spire", name, trust=0.95) for name in ("p", "q", "r")]
    backs = [
        feature(n, e, 4000.0, 1.0) for n, e in zip("pqr", (0, 150, -150), strict=True)
    ]
    return items, [feature("spire", 0.0, 600.0, sd_m), *backs]


def test_in_lines_that_share_nothing_multiply() -> None:
    placement = ground(
        feature("a", 0.0, 1000.0),
        feature("b", 0.0, 3000.0),
        feature("c", 900.0, 100.0),
        feature("d", 2500.0, 300.0),
    )
    items = [InLine("a", "b"), InLine("c", "d")]
    stations = at((0.0, 0.0), (5.0, 3.0), (100.0, 0.0))
    together, odds = weigh_in_lines(items, placement, stations, LEAN)
    each = [weigh_in_line(item, placement, stations, LEAN) for item in items]
    np.testing.assert_allclose(together, sum(one.log_likelihood for one in each))
    np.testing.assert_allclose(odds[:, 1], each[1].blunder_log_odds)


def test_shared_feature_is_one_error_not_several() -> None:
    """Draw the spire's error; the joint 90% holds 90%, the naive sum far fewer."""
    draw = np.random.default_rng(11)
    items, placed = three_lines(sd_m=10.0)
    station = at((0.0, 0.0))
    residuals = in_line_residuals(items, ground(*placed), station, LEAN)
    covariance = residuals.covariance[0]
    change = residuals.by_station[0]
    count = 20_000
    spire = draw.normal(0.0, 10.0, (2, count))
    error = np.arctan2(spire[0], 600.0 + spire[1])
    own = np.array([draw.normal(0.0, 1.0 / 4000.0, count) for _ in items])
    reading = draw.normal(0.0, math.radians(0.05), (3, count))
    drawn = (own - error + reading).T

    def share(of: np.ndarray) -> float:
        """Return how often the station lies in its own 90% ellipse."""
        weight = np.linalg.inv(of)
        information = change.T @ weight @ change
        found = np.linalg.solve(information, change.T @ weight @ drawn.T)
        inside = np.einsum("ik,ij,jk->k", found, information, found)
        return float((inside < 4.605).mean())

    assert share(covariance) == pytest.approx(0.9, abs=2.0 * SHARE)
    assert share(np.diag(np.diag(covariance))) < 0.8


def test_joint_density_of_shared_errors_integrates_to_one() -> None:
    items, placed = three_lines(sd_m=3.0)
    items = [replace(item, trust=1.0) for item in items[:2]]
    step_deg = 0.1
    readings = np.arange(-3.0, 3.0, step_deg)
    total = 0.0
    for left_p in readings:
        for left_q in readings:
            read = [
                replace(items[0], left_deg=float(left_p)),
                replace(items[1], left_deg=float(left_q) + 2.0),
            ]
            density, _ = weigh_in_lines(read, ground(*placed), at((0.0, 0.0)), LEAN)
            total += math.exp(density[0])
    assert total * math.radians(step_deg) ** 2 == pytest.approx(1.0, abs=0.01)


def test_one_blunder_among_lines_that_hang_together_is_named() -> None:
    items, placed = three_lines(sd_m=1.0)
    spacing = [math.degrees(math.atan2(e, 4000.0)) for e in (0, 150, -150)]
    read = [
        replace(item, left_deg=left + wrong)
        for item, left, wrong in zip(items, spacing, (0.0, 0.0, 9.0), strict=True)
    ]
    _, odds = weigh_in_lines(read, ground(*placed), at((0.0, 0.0)), LEAN)
    assert (odds[0] > 0.0).tolist() == [False, False, True]


def test_many_lines_that_hang_together_are_weighed() -> None:
    names = [f"b{number}" for number in range(8)]
    placed = [feature("a", 0.0, 700.0, 2.0)]
    placed += [feature(n, 100.0 * i - 350.0, 4000.0, 2.0) for i, n in enumerate(names)]
    items = [
        InLine("a", name, left_deg=math.degrees(math.atan2(100.0 * i - 350.0, 4000.0)))
        for i, name in enumerate(names)
    ]
    density, odds = weigh_in_lines(
        items, ground(*placed), at((0.0, 0.0), (60.0, 0.0)), LEAN
    )
    assert density[0] > density[1] + 10.0
    assert odds.shape == (2, 8)


def test_two_lines_of_sight_in_one_bearing_fix_nothing_along_it() -> None:
    placement = ground(feature("a", 0.0, 1000.0), feature("b", 0.0, 3000.0))
    found = position_information([InLine("a", "b")], placement, at((0.0, 0.0)), LEAN)
    assert found.nearly_indeterminate[0]
    assert np.isinf(found.longest_sd_m[0])
    # Noise of a grazing line: 5 m at 1 and 3 km, 0.05 deg, over 1/1000 - 1/3000.
    noise = math.hypot(5.0 / 1000.0, 5.0 / 3000.0, math.radians(0.05))
    expected_m = noise / (1.0 / 1000.0 - 1.0 / 3000.0)
    assert found.shortest_sd_m[0] == pytest.approx(expected_m, rel=1e-3)
