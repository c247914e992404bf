"""Check how marks are weighed, against the camera, OpenCV, numpy and sums."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from wherestood.camera import Camera, axes, bearing_elevation, project, sight
from wherestood.earth.frame import Frame
from wherestood.evidence.items import Evidence, Feature, Mark
from wherestood.evidence.mark_rows import _best, seen_from_plate
from wherestood.evidence.mark_table import NO_MARKS, TARGET, MarkTable, mark_targets
from wherestood.evidence.mode import fit_mode
from wherestood.evidence.placed import place_evidence
from wherestood.evidence.plate_items import NO_ITEMS
from wherestood.evidence.plate_rows import (
    Aims,
    OnPlate,
    add_plate_rows,
    plate_state,
)
from wherestood.evidence.shared_errors import shared_errors
from wherestood.evidence.stations import Stations
from wherestood.evidence.unknowns import CAMERA, COUNT, UNKNOWNS

DIAGONAL_PX, WIDTH_PX, HEIGHT_PX = 5000.0, 4000, 3000
FRAME = Frame.local(8.5, 46.1)
ROUNDING = 1e-9
# Central differences of 1e-6 leave their square times third derivatives, and 1e-10
# of rounding.
DIFFERENCES = 1e-8
# The lens's own change with place is left out of the derivatives, as for skylines:
# 8 k1 x^2 over the diagonal squared, 2% at the edge for k1 = 0.015.
RADIAL_SHARE = 0.02
# A density's spread changes with the camera's scale over its own width.
BEND = 0.01
# Marks are computed without error; a climb ends where steps are this short.
HUNDREDTH_OF_A_DEGREE = np.radians(0.01)

THETA = np.zeros(COUNT)
THETA[:CAMERA] = [1.3, np.log(0.9), 0.03, -0.02, 0.04, -0.02, 0.015, 0.01, 2e-3, -1e-3]
PLAIN = THETA.copy()
PLAIN[6:CAMERA] = 0.0

# What is believed of a view camera; the bearing flat, the cell 100 m.
SD = np.full(COUNT, 1e-6)
SD[0] = np.inf
SD[1:CAMERA] = [0.3, 0.026, 0.026, 0.06, 0.02, 0.01, 0.003, 0.002, 0.002]
SD[-2:] = 100.0 / np.sqrt(12.0)
LIMITS = np.log([0.45, 2.2])
LEVELS = np.array([[4.0, 500.0, 1.5, 60.0, 0.4, 10.0, 1.0]])

# Where things stand from the middle of the cell [m], all in the picture, and heights.
PLACES_M = np.array(
    [[700, 0, 40], [900, 420, 90], [1500, -300, 150], [2400, 900, 320], [1200, 80, 20],
     [3000, -500, 260], [1000, -180, 60]]
)  # fmt: skip
STATION_M = np.array([12.0, -9.0])
LENS_M = 30.0


def seen(theta, x, y, warp=(0.0, 0.0)):
    rows = np.zeros((2, COUNT))
    mark = np.array([x, y, 4e-4, *warp])
    return seen_from_plate(theta, mark, rows), rows


def camera_of(theta, **changed) -> Camera:
    values = {
        "bearing_rad": theta[0],
        "tilt_rad": theta[2],
        "roll_rad": theta[3],
        "principal_distance_px": np.exp(theta[1]) * DIAGONAL_PX,
        "rise_px": theta[4] * DIAGONAL_PX,
        "cross_px": theta[5] * DIAGONAL_PX,
        "k1": theta[6],
        "width_px": WIDTH_PX,
        "height_px": HEIGHT_PX,
    }
    return Camera(**{**values, **changed})


# What the camera sees ----------------------------------------------------------------


@pytest.mark.parametrize("k1", [0.0, 0.015, -0.02])
def test_directions_are_those_of_the_camera_model(k1: float) -> None:
    rng = np.random.default_rng(3)
    theta = PLAIN.copy()
    theta[6] = k1
    for x, y in rng.uniform((-0.4, -0.3), (0.4, 0.3), (20, 2)):
        (alpha, tangent, *_), _ = seen(theta, x, y)
        pixel = 2000.0 + DIAGONAL_PX * x, 1500.0 - DIAGONAL_PX * y
        bearing_rad, elevation_rad = bearing_elevation(camera_of(theta), *pixel)
        assert theta[0] + alpha == pytest.approx(bearing_rad, abs=ROUNDING)
        assert tangent == pytest.approx(np.tan(elevation_rad), abs=ROUNDING)


def test_directions_are_those_that_opencv_projects_to_the_mark() -> None:
    one = camera_of(PLAIN)
    c_px = one.principal_distance_px
    matrix = np.array(
        [[c_px, 0, 2000 - one.cross_px], [0, c_px, 1500 + one.rise_px], [0, 0, 1]]
    )
    turn, _ = cv2.Rodrigues(axes(one) * np.array([[1.0], [-1.0], [1.0]]))
    for x, y in ((-0.35, 0.2), (0.1, -0.25), (0.38, 0.05)):
        (alpha, tangent, *_), _ = seen(PLAIN, x, y)
        azimuth = PLAIN[0] + alpha
        ray = 1000.0 * np.array([[np.sin(azimuth), np.cos(azimuth), tangent]])
        pixel, _ = cv2.projectPoints(ray, turn, np.zeros(3), matrix, None)
        expected = [2000.0 + DIAGONAL_PX * x, 1500.0 - DIAGONAL_PX * y]
        np.testing.assert_allclose(pixel.ravel(), expected, atol=1e-6)


@pytest.mark.parametrize("radial", [0.0, 0.015])
@pytest.mark.parametrize("name", UNKNOWNS[:CAMERA])
def test_derivatives_by_each_unknown_of_the_camera(name: str, radial: float) -> None:
    index, step = UNKNOWNS.index(name), np.zeros(COUNT)
    theta = THETA.copy()
    theta[6] = radial
    step[index] = 1e-6
    for x, y in ((-0.35, 0.2), (0.1, -0.25), (0.38, 0.05)):
        warp = (0.7, -0.4)
        _, rows = seen(theta, x, y, warp)
        above, below = (seen(theta + s * step, x, y, warp)[0][:2] for s in (1, -1))
        expected = (np.array(above) - np.array(below)) / 2e-6
        if name == "bearing":  # alpha is counted from the axis
            expected += [1.0, 0.0]
        atol = DIFFERENCES + (RADIAL_SHARE * np.abs(expected).max() if radial else 0)
        np.testing.assert_allclose(rows[:, index], expected, atol=atol)


def test_derivatives_by_the_place_on_the_plate_are_those_by_cross_and_rise() -> None:
    (_, _, a_x, a_y, t_x, t_y), rows = seen(PLAIN, 0.2, -0.1)
    np.testing.assert_allclose([a_x, t_x], rows[:, UNKNOWNS.index("cross")])
    np.testing.assert_allclose([a_y, t_y], rows[:, UNKNOWNS.index("rise")])


# What a mark is worth ----------------------------------------------------------------


def feature(name: str, place_m, sd_m: float = 5.0) -> Feature:
    lon, lat = FRAME.to_lonlat(np.array(place_m[0]), np.array(place_m[1]))
    return Feature(
        (float(lon), float(lat)),
        id=name,
        sd_m=sd_m,
        height_m=float(place_m[2]),
        height_sd_m=2.0,
    )


def pixels(theta, places_m) -> tuple[np.ndarray, np.ndarray]:
    """Return where a plain camera at the station draws places."""
    rays = places_m - np.array([*STATION_M, LENS_M])
    rays[:, 2] -= STATIONS.curvature_per_m * np.sum(rays[:, :2] ** 2, axis=1)
    return project(camera_of(theta), rays)


STATIONS = Stations(np.zeros(1), np.zeros(1), np.array([LENS_M]), lens_sd_m=0.1)
# Looking east over the places.
TRUTH = PLAIN.copy()
TRUTH[0] = np.radians(80.0)
TRUTH[2:6] = 0.02, 0.01, 0.03, -0.01


def table_of(marks, features) -> MarkTable:
    evidence = Evidence(marks=tuple(marks), features=tuple(features))
    placement = place_evidence(evidence, FRAME)
    return MarkTable.of(evidence.marks, placement, WIDTH_PX, HEIGHT_PX)


def good_marks(count: int = len(PLACES_M), sd_px: float = 2.0, sd_m: float = 5.0):
    """Return marks without error and their features."""
    x_px, y_px = pixels(TRUTH, PLACES_M[:count].astype(np.float64))
    assert np.all((x_px > 0) & (x_px < WIDTH_PX) & (y_px > 0) & (y_px < HEIGHT_PX))
    features = [feature(f"f{i}", PLACES_M[i], sd_m) for i in range(count)]
    marks = [
        Mark(float(x_px[i]), float(y_px[i]), f"f{i}", id=f"m{i}", sd_px=sd_px)
        for i in range(count)
    ]
    return marks, features


def on_plate(table: MarkTable) -> OnPlate:
    if table.placement is None:
        return OnPlate(table)
    each = [table.placement.candidates(mark.id, mark.at) for mark in table.marks]
    return OnPlate(table, NO_ITEMS, shared_errors(each, table.placement).count)


def handed(table: MarkTable, targets):
    none = Aims.none(1)
    aims = Aims(targets[None], none.sizes, none.levels)
    return on_plate(table).handed(aims)


def weighed(theta, table, targets, *, whole=True, wider=0.0):
    normal, right = np.zeros((COUNT, COUNT)), np.zeros(COUNT)
    square, log_det = add_plate_rows(
        theta, handed(table, targets), wider, whole, False, normal, right, np.zeros(0)
    )
    return square, log_det, normal, right


def mark_state(table: MarkTable, theta):
    seen = on_plate(table)
    return plate_state(seen, seen.aims(STATIONS), theta)


def climb(table, start, *, legs=3, rounds=8):
    """Climb by marks alone; return log density, camera and covariance."""
    targets = mark_targets(table, STATIONS)[0]
    mean = np.zeros(COUNT)
    mean[1] = np.log(0.95)
    theta, covariance = np.zeros(COUNT), np.empty((COUNT, COUNT))
    score = fit_mode(
        start, np.zeros((0, 5)), np.full((360, 5), 0.05), STATIONS.curvature_per_m,
        mean, np.where(np.isfinite(SD), 1.0 / SD**2, 0.0), LIMITS, LEVELS, np.zeros(1),
        0, -3.0, rounds, legs, handed(table, targets), theta, covariance,
        np.empty(0), np.empty(1), 1.0, False,
    )  # fmt: skip
    return score, theta, covariance


def away(degrees: float):
    start = np.zeros(COUNT)
    start[0] = TRUTH[0] + np.radians(degrees)
    start[1] = TRUTH[1] + 0.1
    return start


def test_density_over_the_plate_is_the_trust_and_the_blunders_the_rest() -> None:
    places = PLACES_M[[0, 3]].astype(np.float64)
    (x_px, y_px) = pixels(TRUTH, places)
    marks = [Mark(100.0, 100.0, {"f0": 0.7, "f1": 0.3}, id="m", sd_px=4.0, trust=0.8)]
    table = table_of(marks, [feature(f"f{i}", places[i]) for i in (0, 1)])
    stations = replace(STATIONS, east_m=STATION_M[:1], north_m=STATION_M[1:])
    targets = mark_targets(table, stations)[0]
    mark, total = table.plate[0].copy(), 0.0
    half, count = 0.06, 121
    steps = np.linspace(-half, half, count)
    for i in (0, 1):
        for dx in steps:
            for dy in steps:
                mark[0] = (x_px[i] - 2000.0) / DIAGONAL_PX + dx
                mark[1] = (1500.0 - y_px[i]) / DIAGONAL_PX + dy
                at = seen_from_plate(TRUTH, mark, np.zeros((2, COUNT)))
                total += math.exp(
                    _best(TRUTH, mark, targets[0], table.log_weight[0], at, 0.0)[1]
                )
    total *= (steps[1] - steps[0]) ** 2
    assert total == pytest.approx(0.8, rel=BEND)
    area = WIDTH_PX * HEIGHT_PX / DIAGONAL_PX**2
    assert math.exp(table.log_blunder[0]) * area == pytest.approx(0.2, abs=ROUNDING)


def test_normal_equations_are_those_of_dense_whitened_least_squares() -> None:
    rng = np.random.default_rng(4)
    marks, features = good_marks()
    table = table_of(marks, features)
    theta = TRUTH.copy()
    theta[:CAMERA] += rng.normal(0.0, 2e-3, CAMERA)
    theta[-2:] = 4.0, -3.0
    targets = mark_targets(table, replace(STATIONS, lens_sd_m=1.0))[0]
    jacobian = np.zeros((2 * len(marks), COUNT))
    spread = np.zeros((2 * len(marks), 2 * len(marks)))
    left, by_lens = np.zeros((2, 2 * len(marks)))
    units = 0.0
    for m in range(len(marks)):
        two = slice(2 * m, 2 * m + 2)
        (alpha, tangent, a_x, a_y, t_x, t_y), rows = seen(
            theta, *table.plate[m, :2], table.plate[m, 3:]
        )
        target = targets[m, 0]
        rows[:, -2:] = -target[5:9].reshape(2, 2)
        rows[1, -3] = -target[14]
        jacobian[two] = rows
        turn = np.array([[a_x, a_y], [t_x, t_y]])
        spread[two, two] = table.plate[m, 2] ** 2 * turn @ turn.T
        spread[two, two] += [[target[2], target[3]], [target[3], target[4]]]
        left[two] = [theta[0] + alpha - target[0], tangent - target[1]]
        by_lens[2 * m + 1] = np.sqrt(target[4] - target[11])
        units -= 2.0 * np.linalg.slogdet(turn)[1] + 2.0 * np.log(0.95)
    # The lens is as much too high for one mark as for another.
    own = by_lens**2
    spread += np.outer(by_lens, by_lens) - np.diag(own)
    dense = jacobian.T @ np.linalg.solve(spread, jacobian)
    right = jacobian.T @ np.linalg.solve(spread, left)
    square = left @ np.linalg.solve(spread, left)
    log_det = np.linalg.slogdet(2.0 * np.pi * spread)[1] + units
    got = weighed(theta, table, targets)
    assert got[0] == pytest.approx(square)
    assert got[1] == pytest.approx(log_det)
    scale = np.sqrt(np.outer(np.diag(dense) + 1.0, np.diag(dense) + 1.0))
    np.testing.assert_allclose(
        np.tril(got[2]) / scale, np.tril(dense) / scale, atol=ROUNDING
    )
    np.testing.assert_allclose(got[3], right, rtol=1e-7)
    held = weighed(theta, table, targets, whole=False)
    # What is summed over points is not solved for as well.
    assert held[:2] == got[:2]
    still = np.setdiff1d(np.arange(COUNT), (0, 1, 5))
    np.testing.assert_array_equal(
        held[3], np.where(np.isin(np.arange(COUNT), still), got[3], 0)
    )
    np.testing.assert_array_equal(
        held[2][np.ix_(still, still)], got[2][np.ix_(still, still)]
    )


def test_a_mark_ten_times_worse_pulls_a_hundred_times_less() -> None:
    plate = np.array([[0.1, 0.05, 4e-4, 0, 0], [0.1, 0.05, 4e-3, 0, 0]])
    (alpha, tangent, *_), _ = seen(PLAIN, 0.1, 0.05)
    off = 1e-3
    targets = np.zeros((2, 1, TARGET))
    targets[:, 0, 0] = PLAIN[0] + alpha + np.array([off, -off])
    targets[:, 0, 1] = tangent
    targets[:, 0, 9] = targets[:, 0, 11] = 0.0
    where = np.full((2, 1, 2), -1, dtype=np.int64)
    sure = MarkTable(
        plate,
        np.zeros((2, 1)),
        np.full(2, -100.0),
        np.ones(2, dtype=bool),
        where,
        np.zeros((2, 1, 4)),
    )
    _, _, normal, right = weighed(PLAIN, sure, targets)
    # Both look at one place: the bearing solved for is their weighted mean.
    assert -right[0] / normal[0, 0] == pytest.approx(off * (100 - 1) / (100 + 1))


# What climbs find --------------------------------------------------------------------


@pytest.mark.parametrize("degrees", [0.0, -3.0, 10.0, -10.0])
def test_camera_and_station_are_found_from_a_start_far_off(degrees: float) -> None:
    # Features known to a decimetre and marks to a fifth of a pixel leave priors little
    # to say but of what marks cannot tell apart: tilt and rise, bearing and cross.
    table = table_of(*good_marks(sd_px=0.2, sd_m=0.1))
    _, theta, covariance = climb(table, away(degrees))
    found, true = (sight(camera_of(one)) for one in (theta, TRUTH))
    np.testing.assert_allclose(found, true, atol=HUNDREDTH_OF_A_DEGREE)
    sd_m = np.sqrt(np.diag(covariance))[-2:]
    assert np.all(sd_m < 3.0)
    # Within the cell directions count as straight: half of 12^2 / 700 m is 0.1 m.
    assert np.all(np.abs(theta[-2:] - STATION_M) < sd_m)


def test_a_blunder_is_named_and_pulls_nothing() -> None:
    marks, features = good_marks()
    _, alone, _ = climb(table_of(marks, features), away(3.0))
    wrong = replace(marks[2], x_px=marks[2].x_px - 900.0, id="wrong", features="f2")
    table = table_of([*marks, wrong], features)
    _, theta, _ = climb(table, away(3.0))
    np.testing.assert_allclose(theta, alone, atol=1e-9)
    state = mark_state(table, theta)
    odds, off = state.mark_odds, state.mark_off
    assert odds[-1] > 0.0
    assert np.all(odds[:-1] < 0.0)
    # The wrong one lies 900 px left of where its feature would show.
    assert off[-1, 0] * DIAGONAL_PX == pytest.approx(-900.0, rel=0.05)


def test_a_mark_that_may_be_either_of_two_features_picks_the_right_one() -> None:
    marks, features = good_marks()
    beside = feature("other", PLACES_M[3] + np.array([0.0, 120.0, 5.0]))
    either = replace(marks[3], features={"other": 0.6, "f3": 0.4})
    table = table_of([*marks[:3], either, *marks[4:]], [*features, beside])
    _, theta, _ = climb(table, away(3.0))
    _, known, _ = climb(table_of(marks, features), away(3.0))
    which = mark_state(table, theta).mark_which
    assert [which[3], which[0]] == [1, 0]
    np.testing.assert_allclose(theta, known, atol=1e-9)


def test_less_a_mark_that_may_be_several_features_the_rest_count_as_ever() -> None:
    marks, features = good_marks()
    beside = feature("other", PLACES_M[3] + np.array([0.0, 120.0, 5.0]))
    either = replace(marks[3], features={"other": 0.6, "f3": 0.4})
    rest = [*marks[:3], *marks[4:]]
    less = table_of([*marks[:3], either, *marks[4:]], [*features, beside])
    less = less.without({either.id})
    alone = table_of(rest, features)
    found = [
        weighed(TRUTH, table, mark_targets(table, STATIONS)[0])
        for table in (less, alone)
    ]
    np.testing.assert_allclose(found[0][0], found[1][0], atol=ROUNDING)
    np.testing.assert_allclose(found[0][1], found[1][1], atol=ROUNDING)
    np.testing.assert_allclose(found[0][2], found[1][2], rtol=ROUNDING)


def test_log_density_is_the_dense_marginal_about_the_mode() -> None:
    table = table_of(*good_marks())
    score, theta, covariance = climb(table, away(1.0), rounds=20)
    targets = mark_targets(table, STATIONS)[0]
    square, log_det, normal, _ = weighed(theta, table, targets)
    precision = np.where(np.isfinite(SD), 1.0 / SD**2, 0.0)
    hessian = np.tril(normal) + np.tril(normal, -1).T + np.diag(precision)
    hessian[0, 0] += 3.0 / np.pi**2  # the whole circle is all a bearing can be
    np.testing.assert_allclose(
        np.linalg.inv(hessian), covariance, rtol=1e-5, atol=1e-12
    )
    # Where the climb ends the camera's slope is nil; the station's linear unknowns
    # take their best value, which this removes from the squares as they stand at 0.
    mean = np.zeros(COUNT)
    mean[1], mean[CAMERA] = np.log(0.95), 0.0
    stands = theta.copy()
    stands[CAMERA:] = 0.0
    square += np.sum(precision * (stands - mean) ** 2)
    rows = weighed(theta, table, targets)[3][CAMERA:]
    square -= rows @ np.linalg.solve(hessian[CAMERA:, CAMERA:], rows)
    log_prior = np.sum(np.log(precision[precision > 0.0]))
    log_hessian = np.linalg.slogdet(hessian)[1]
    expected = -0.5 * (square + log_det + log_hessian - log_prior)
    assert score == pytest.approx(expected, abs=1e-6)


# A plate seen from behind ------------------------------------------------------------


def test_mirrored_marks_are_those_of_the_mirrored_scan() -> None:
    marks, features = good_marks()
    table = table_of(marks, features)
    turned = [replace(mark, x_px=WIDTH_PX - mark.x_px) for mark in marks]
    np.testing.assert_allclose(
        table.mirrored().plate, table_of(turned, features).plate, atol=1e-12
    )
    np.testing.assert_array_equal(table.mirrored().mirrored().plate, table.plate)


def test_mirrored_marks_look_where_a_reversed_camera_looks() -> None:
    marks, features = good_marks()
    table = table_of(marks, features).mirrored()
    reversed_camera = camera_of(TRUTH, reversed=True)
    for row, mark in enumerate(marks):
        (alpha, tangent, *_), _ = seen(TRUTH, *table.plate[row, :2])
        bearing, elevation = bearing_elevation(reversed_camera, mark.x_px, mark.y_px)
        assert TRUTH[0] + alpha == pytest.approx(bearing, abs=ROUNDING)
        assert tangent == pytest.approx(np.tan(elevation), abs=ROUNDING)


def test_reversed_plate_is_explained_by_its_own_hand_only() -> None:
    marks, features = good_marks()
    behind = [replace(mark, x_px=WIDTH_PX - mark.x_px) for mark in marks]
    table = table_of(behind, features)
    as_is, turned = climb(table, away(1.0))[0], climb(table.mirrored(), away(1.0))[0]
    assert turned > as_is + 10.0


# Odds and ends -----------------------------------------------------------------------


def test_without_marks_nothing_is_added() -> None:
    targets = mark_targets(NO_MARKS, STATIONS)
    assert targets.shape == (1, 0, 1, TARGET)
    square, log_det, normal, right = weighed(TRUTH, NO_MARKS, targets[0])
    assert (square, log_det) == (0.0, 0.0)
    assert not normal.any()
    assert not right.any()


def test_marks_tied_to_nothing_are_left_out() -> None:
    marks, features = good_marks()
    table = table_of([*marks, Mark(5.0, 5.0, id="a stain")], features)
    assert [mark.id for mark in table.marks] == [mark.id for mark in marks]


def test_without_a_height_the_bearing_still_tells() -> None:
    marks, features = good_marks(3)
    bare = [replace(one, height_m=None, height_sd_m=None) for one in features]
    table = table_of(marks, bare)
    targets = mark_targets(table, STATIONS)[0]
    known = mark_targets(table_of(marks, features), STATIONS)[0]
    assert np.isfinite(targets).all()
    np.testing.assert_array_equal(targets[..., 0], known[..., 0])
    there = TRUTH.copy()
    there[-2:] = STATION_M
    _, _, normal, _ = weighed(there, table, targets)
    _, _, full, _ = weighed(there, table_of(marks, features), known)
    tilt = UNKNOWNS.index("tilt")
    assert normal[0, 0] == pytest.approx(full[0, 0], rel=0.05)
    assert normal[tilt, tilt] < 0.01 * full[tilt, tilt]
