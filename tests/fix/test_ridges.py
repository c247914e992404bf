"""Check that ridge lines weigh cameras as they should."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from wherestood.earth.frame import Frame
from wherestood.evidence.items import RidgeLine
from wherestood.evidence.ridge_lines import score_ridges
from wherestood.evidence.unknowns import COUNT
from wherestood.fix.answers import Chosen
from wherestood.fix.problem import sampled_ridges, set_up
from wherestood.fix.ridges import (
    CAMERAS_WITHIN,
    POWER,
    WITHIN,
    ridge_log_odds,
    weigh_ridges,
)
from wherestood.fix.settings import LocateSettings
from wherestood.plate.skyline import Skyline
from wherestood.terrain.model import Terrain
from wherestood.terrain.ridges import ridge_lines

WIDTH_PX, HEIGHT_PX = 1200, 900
DIAGONAL_PX = 1500.0
C = 1.0
BEARING_RAD = 0.1
STATION_M = (150.0, -250.0)
ASIDE_M = 600.0
ROUNDING = 1e-9


def line_of(x_px, y_px):
    x, y = np.asarray(x_px, dtype=np.float64), np.asarray(y_px, dtype=np.float64)
    broken = np.zeros(x.size, dtype=bool)
    return Skyline(x, y, np.ones(x.size), WIDTH_PX, HEIGHT_PX, broken)


def ground_m(problem, east_m, north_m):
    return problem.maker.heights(east_m, north_m)[0]


def level_camera():
    theta = np.zeros(COUNT)
    theta[:2] = BEARING_RAD, math.log(C)
    return theta


def item(line, name="spur", trust=0.9):
    return RidgeLine(id=name, line=line, trust=trust)


def with_lines(problem, *lines):
    samples = tuple(samples for _, samples in sampled_ridges(lines))
    assert len(samples) == len(lines)
    return replace(problem, ridges=samples)


@pytest.fixture(scope="module")
def problem(plate, wavy_skyline, area_of):
    """Return a search south of three ranges, each higher than the one before it."""
    at_m = np.arange(-80, 81) * 50.0
    east, north = np.meshgrid(at_m, at_m)
    height_m = np.zeros_like(east)
    for crest_m, wide_m, rise_m in ((700, 150, 60), (1700, 300, 190), (3200, 400, 500)):
        wave = 1.0 + 0.25 * np.sin(east / (0.2 * crest_m + 150.0))
        height_m += rise_m * wave * np.exp(-(((north - crest_m) / wide_m) ** 2))
    frame = Frame.local(-27.5, 41.2)
    land = Terrain(
        height_m.astype(np.float32), -4000.0, -4000.0, 50.0, frame, "ground", 50.0
    )
    area = area_of(land, shapely.box(-2000.0, -2000.0, 2000.0, 2000.0))
    return set_up(plate, land, wavy_skyline, area, LocateSettings(surface="ground"))


@pytest.fixture(scope="module")
def single(problem):
    """Return the problem with one way round."""
    return replace(problem, hands=problem.hands[:1])


@pytest.fixture(scope="module")
def spur(problem):
    """Return the longest ridge that a level camera at the station would show."""
    east, north = (np.array([part]) for part in STATION_M)
    x = np.linspace(-0.4, 0.4, 401)
    found = ridge_lines(
        problem.maker.model,
        east,
        north,
        ground_m(problem, east, north) + problem.maker.lens_height_m,
        BEARING_RAD + np.arctan2(x, C),
        most=1,
    )
    tangent, away = found.tangent[0, :, 0], found.distance_m[0, :, 0]
    with np.errstate(invalid="ignore"):
        same = np.abs(np.diff(np.log(away), prepend=np.nan)) < 0.03
    edges = np.flatnonzero(np.diff(np.concatenate(([0], same.astype(int), [0]))))
    start, stop = max(
        zip(edges[::2], edges[1::2], strict=True), key=lambda run: run[1] - run[0]
    )
    part = slice(start, stop)
    # A level camera: Y over the ray's length in plan is the tangent.
    up = tangent[part] * np.hypot(x[part], C)
    return line_of(
        x[part] * DIAGONAL_PX + WIDTH_PX / 2, HEIGHT_PX / 2 - up * DIAGONAL_PX
    )


@pytest.fixture(scope="module")
def cells(problem, make_cells):
    """Return two cells of like density: the station's own, and one 600 m aside."""
    east = STATION_M[0] + np.array([0.0, ASIDE_M])
    north = np.full(2, STATION_M[1])
    made = make_cells(east, north, 25.0, np.zeros(2))
    made.theta[:] = level_camera()
    return replace(made, ground_m=ground_m(problem, east, north))


def test_without_lines_nothing_is_changed(single, cells):
    assert weigh_ridges(single, cells) is cells


def test_probability_moves_to_where_the_ridge_is_seen(single, cells, spur):
    weighed = weigh_ridges(with_lines(single, item(spur)), cells)
    share = np.exp(weighed.log_density - np.logaddexp.reduce(weighed.log_density))
    assert cells.log_density[0] == cells.log_density[1]
    assert share[0] > 0.7
    # The camera is weighed as its cell is, nothing else of it is touched.
    np.testing.assert_allclose(
        weighed.mode_score[:, :, 0], weighed.log_score, atol=ROUNDING
    )
    np.testing.assert_array_equal(weighed.theta, cells.theta)


def test_gain_is_the_mean_over_levels_to_the_powers_of_the_likelihood(
    single, cells, spur
):
    asked = with_lines(single, item(spur), item(spur, "again", 0.4))
    density = np.exp(
        score_ridges(
            asked.maker.model,
            asked.hands[0].samples,
            asked.ridges,
            cells.east_m,
            cells.north_m,
            cells.ground_m + asked.maker.lens_height_m,
            cells.side_m,
            cells.theta[:, 0, 0],
            farthest_m=asked.settings.horizon_radius_m,
        ).sum(axis=2)
    )
    expected = POWER * asked.noise.whole_power * np.log(density.mean(axis=1))
    gain = weigh_ridges(asked, cells).log_density - cells.log_density
    assert gain == pytest.approx(expected, abs=ROUNDING)


def test_a_line_where_no_ground_is_moves_nothing_to_speak_of(single, cells):
    sky = line_of([50.0, 1150.0], [20.0, 20.0])
    weighed = weigh_ridges(with_lines(single, item(sky, trust=0.4)), cells)
    gain = weighed.log_density - cells.log_density
    assert (gain < 0.0).all()
    assert abs(gain[0] - gain[1]) < 0.05


def test_cells_far_below_the_best_are_left_as_they_are(single, cells, spur):
    low = replace(cells, log_score=cells.log_score.copy())
    low.log_score[0] -= WITHIN + 1.0
    weighed = weigh_ridges(with_lines(single, item(spur)), low)
    assert weighed.log_score[0] == low.log_score[0]
    assert weighed.log_score[1] != low.log_score[1]


def test_cameras_far_below_their_best_are_counted_with_its_gain(single, cells, spur):
    more = replace(cells, mode_score=cells.mode_score.copy(), theta=cells.theta.copy())
    more.mode_score[:, 0, 1] = -CAMERAS_WITHIN - 1.0
    more.theta[:, 0, 1, 0] += math.pi
    weighed = weigh_ridges(with_lines(single, item(spur)), more)
    best, far = (
        weighed.mode_score[:, 0, camera] - more.mode_score[:, 0, camera]
        for camera in (0, 1)
    )
    assert far == pytest.approx(best, abs=ROUNDING)
    assert (weighed.mode_score[:, 0, 2:] == -np.inf).all()


def test_a_cell_without_a_camera_keeps_its_score(single, cells, spur):
    none = replace(cells, mode_score=np.full_like(cells.mode_score, -np.inf))
    weighed = weigh_ridges(with_lines(single, item(spur)), none)
    np.testing.assert_array_equal(weighed.log_score, none.log_score)


def test_doubled_doubts_weigh_less(single, cells, spur):
    asked = with_lines(single, item(spur))
    usual = weigh_ridges(asked, cells).log_density[0]
    assert asked.doubled().ridge_doubt == 2.0
    assert 0.0 < weigh_ridges(asked.doubled(), cells).log_density[0] < usual


def test_a_scan_left_for_right_is_read_from_behind(problem, single, cells, spur):
    turned = line_of(WIDTH_PX - spur.x_px[::-1], spur.y_px[::-1])
    assert problem.hands[1].reversed
    behind = replace(problem, hands=problem.hands[1:])
    behind = replace(
        behind, hands=(replace(behind.hands[0], samples=single.hands[0].samples),)
    )
    one = weigh_ridges(with_lines(single, item(spur)), cells)
    other = weigh_ridges(with_lines(behind, item(turned)), cells)
    np.testing.assert_allclose(other.log_score, one.log_score, atol=1e-6)


def test_log_odds_tell_which_line_the_ground_explains(single, cells, spur):
    sky = line_of([50.0, 1150.0], [20.0, 20.0])
    asked = with_lines(single, item(sky, "cloud"), item(spur))
    place = np.array([*STATION_M, cells.ground_m[0] + asked.maker.lens_height_m])
    chosen = Chosen(None, None, level_camera(), 0, place)
    cloud, there = ridge_log_odds(asked, chosen)
    assert cloud < 0.0
    assert there > 1.0
    assert ridge_log_odds(single, chosen).shape == (0,)


def test_a_line_too_short_to_count_is_not_sampled(spur):
    short = line_of([100.0, 200.0], [500.0, 505.0])
    kept = sampled_ridges([item(short, "short"), item(spur)])
    assert [ridge.id for ridge, _ in kept] == ["spur"]
