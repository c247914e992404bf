"""Check the score of ridge lines on invented ground."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from wherestood.earth.frame import Frame
from wherestood.evidence import ridge_lines as scoring
from wherestood.evidence.ridge_lines import LEVELS, score_ridges
from wherestood.evidence.ridge_samples import RidgeSamples, sample_ridge
from wherestood.evidence.samples import BINS, SkylineSamples
from wherestood.evidence.unknowns import COUNT
from wherestood.plate.skyline import Skyline
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain
from wherestood.terrain.ridges import ridge_lines

CELL_M = 30.0
REACH_M = 9000.0
ASIDE_M = 500.0
WIDTH_PX, HEIGHT_PX = 4000, 3000
DIAGONAL_PX = 5000.0
C = 1.0  # principal distance over the diagonal
LENS_M = 10.0
ROUNDING = 1e-9
# A chain begun at the other end of a line takes up and leaves ridges elsewhere [log].
FROM_THE_OTHER_END = 0.5


def model_of(heights_m, west_m):
    ground = np.asarray(heights_m, dtype=np.float32)
    land = Terrain(
        ground, west_m, -REACH_M, CELL_M, Frame.local(7, 46), "ground", CELL_M
    )
    return HorizonModel.of(land, 6.37e6)


def hills_m(seed):
    """Return invented hills, 18 km square, longer than wide and lower near by."""
    rng = np.random.default_rng(seed)
    at_m = np.arange(-REACH_M, REACH_M + 1.0, CELL_M)
    east, north = np.meshgrid(at_m, at_m)
    heights = np.zeros_like(east)
    for _ in range(120):
        middle = rng.uniform(-REACH_M, REACH_M, 2)
        wide, turn = rng.uniform(400.0, 1200.0), rng.uniform(0.0, np.pi)
        rise = rng.uniform(0.25, 0.5) * wide * min(1.0, np.hypot(*middle) / 4000.0)
        e, n = east - middle[0], north - middle[1]
        along = (e * np.cos(turn) + n * np.sin(turn)) / (2.0 * wide)
        across = (n * np.cos(turn) - e * np.sin(turn)) / wide
        heights += rise * np.exp(-(along**2) - across**2)
    return heights


@pytest.fixture(scope="module")
def heights_m():
    return hills_m(2)


@pytest.fixture(scope="module")
def model(heights_m):
    return model_of(heights_m, -REACH_M)


def camera(bearing_rad=0.6):
    theta = np.zeros(COUNT)
    theta[0], theta[1] = bearing_rad, math.log(C)
    return theta


def ground_at(model, east_m, north_m):
    land = model.terrain
    column = np.rint((east_m - land.west_m) / CELL_M).astype(int)
    row = np.rint((north_m - land.south_m) / CELL_M).astype(int)
    return land.elevation_m[row, column].astype(np.float64)


def seen_from(model, east_m, north_m, theta):
    """Return the ridge lines that a level camera there would show, longest first."""
    x = np.linspace(-0.5, 0.5, 1201) * WIDTH_PX / DIAGONAL_PX
    place = (np.array([east_m]), np.array([north_m]))
    found = ridge_lines(
        model,
        *place,
        ground_at(model, *place) + LENS_M,
        theta[0] + np.arctan2(x, C),
    )
    away, tangent = found.distance_m[0], found.tangent[0]
    free = np.isfinite(away)
    lines = []
    for start in range(x.size):
        for ridge in np.flatnonzero(free[start]):
            columns, points, last = [], [], away[start, ridge]
            for column in range(start, x.size):
                apart = np.abs(np.log(away[column] / last))
                apart[~free[column]] = np.inf
                j = int(np.argmin(apart))
                if not apart[j] < 0.03:
                    break
                last = away[column, j]
                free[column, j] = False
                columns.append(x[column] * DIAGONAL_PX + WIDTH_PX / 2)
                # A level camera: Y over the ray's length in plan is the tangent.
                up = tangent[column, j] * math.hypot(x[column], C)
                points.append(HEIGHT_PX / 2 - up * DIAGONAL_PX)
            lines.append((columns, points))
    lines.sort(key=lambda line: -len(line[0]))
    return [line_of(*line) for line in lines]


def line_of(x_px, y_px):
    x, y = np.asarray(x_px), np.asarray(y_px)
    broken = np.zeros(x.size, dtype=bool)
    return Skyline(x, y, np.full(x.size, 1.5), WIDTH_PX, HEIGHT_PX, broken)


def longest(model):
    """Return the longest ridge lines seen from the middle, as scored."""
    lines = seen_from(model, 0.0, 0.0, camera())[:4]
    found = tuple(sample_ridge(line, 0.9) for line in lines)
    return tuple(line for line in found if line is not None)


@pytest.fixture(scope="module")
def traced(model):
    return longest(model)


@pytest.fixture(scope="module")
def skyline():
    """Return a level skyline through the middle of the plate."""
    x = (np.arange(BINS) + 0.5) / BINS - 0.5
    table = np.zeros((BINS, 5))
    table[:, 0] = x * WIDTH_PX / DIAGONAL_PX
    table[:, 1] = 0.03
    return SkylineSamples(table, DIAGONAL_PX, WIDTH_PX, HEIGHT_PX)


def scored(model, skyline, lines, east_m, north_m, thetas, **more):
    east, north = np.atleast_1d(east_m) * 1.0, np.atleast_1d(north_m) * 1.0
    return score_ridges(
        model,
        skyline,
        lines,
        east,
        north,
        ground_at(model, east, north) + LENS_M,
        np.full(east.size, 25.0),
        np.atleast_2d(thetas),
        farthest_m=20_000.0,
        **more,
    )


def best(levels):
    """Return the greatest sum over lines at any level, for each camera."""
    return levels.sum(axis=2).max(axis=1)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_lines_of_one_station_score_far_higher_there_than_aside(skyline, seed):
    model = model_of(hills_m(seed), -REACH_M)
    traced = longest(model)
    there = best(scored(model, skyline, traced, 0.0, 0.0, camera()))[0]
    turns_rad = np.radians(np.arange(-8.0, 8.1, 0.5))
    cameras = np.array([camera(0.6 + turn) for turn in turns_rad])
    for east, north in ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)):
        place = (np.full(turns_rad.size, ASIDE_M * part) for part in (east, north))
        # Even turned to where they fit best.
        aside = best(scored(model, skyline, traced, *place, cameras)).max()
        assert there > aside + math.log(10.0)


def test_every_line_that_is_there_is_explained(model, skyline, traced):
    levels = scored(model, skyline, traced, 0.0, 0.0, camera())[0]
    assert levels.shape == (len(LEVELS), len(traced))
    assert (levels[0] > 1.0).all()


def test_a_line_that_is_no_ridge_costs_no_more_than_distrust(model, skyline):
    """The chain may always hold that it follows none: that path bounds the score."""
    rng = np.random.default_rng(4)
    for trust in (0.4, 0.9):
        lines = []
        for _ in range(12):
            x_px = np.sort(rng.uniform(0.0, WIDTH_PX, 2))
            x_px = np.clip(x_px + np.array([-400.0, 400.0]), 0.0, WIDTH_PX)
            y_px = rng.uniform(0.3, 0.9) * HEIGHT_PX + rng.normal(0.0, 60.0, 2)
            lines.append(sample_ridge(line_of(x_px, y_px), trust))
        levels = scored(model, skyline, tuple(lines), 0.0, 0.0, camera())[0]
        count = np.array([len(line.table) for line in lines])
        none = math.log(1.0 - trust) + (count - 1) * math.log(1.0 - scoring.TAKE_UP)
        once = 1.0 / scoring.SHARED_STRIPS
        none *= once + (1.0 - once) / count
        assert (levels >= none - ROUNDING).all()


def test_a_line_where_no_ground_is_costs_just_that(model, skyline):
    line = sample_ridge(line_of([200.0, 3800.0], [300.0, 300.0]), 0.4)
    assert line is not None
    levels = scored(model, skyline, (line,), 0.0, 0.0, camera())[0]
    count = len(line.table)
    none = math.log(0.6) + (count - 1) * math.log(1.0 - scoring.TAKE_UP)
    once = 1.0 / scoring.SHARED_STRIPS
    none *= once + (1.0 - once) / count
    # A tangent of 0.24 is some thirty errors from any ridge: Student's tails alone.
    assert levels[0, 0] == pytest.approx(none, abs=0.02)


def test_doubts_taken_wider_lower_the_peak(model, skyline, traced):
    usual, wider = (
        best(scored(model, skyline, traced, 0.0, 0.0, camera(), wider=factor))[0]
        for factor in (1.0, 2.0)
    )
    assert 0.0 < wider < usual


def test_no_lines_score_nothing(model, skyline):
    assert scored(model, skyline, (), 0.0, 0.0, camera()).shape == (1, len(LEVELS), 0)


def test_a_station_without_a_place_explains_no_line(model, skyline, traced):
    nowhere = np.array([np.nan])
    levels = score_ridges(
        model, skyline, traced, nowhere, nowhere, nowhere, np.ones(1),
        camera()[None], farthest_m=20_000.0,
    )  # fmt: skip
    assert (levels == 0.0).all()


def test_a_mirrored_plate_scores_the_same_on_mirrored_ground(
    heights_m, model, skyline, traced
):
    theta = camera()
    theta[2:11] = [0.01, 0.012, 0.02, -0.015, 0.02, 0.01, 1e-3, 2e-3, 2.0]
    behind = theta.copy()
    behind[[0, 3, 5, 9]] *= -1.0
    mirrored = tuple(line.mirrored() for line in traced)
    # The chain begins at one end with the trust: led from the other end, as the
    # plate itself is, it is the same to the last digit.
    led_back = tuple(RidgeSamples(one.table[::-1], one.trust) for one in mirrored)
    other = model_of(heights_m[:, ::-1], -REACH_M)
    for place in ((0.0, 0.0), (210.0, -90.0)):
        seen = scored(model, skyline, traced, *place, theta)
        there = (-place[0], place[1], behind)
        back, turned = (
            scored(other, skyline.mirrored(), lines, *there)
            for lines in (led_back, mirrored)
        )
        np.testing.assert_allclose(back, seen, rtol=1e-6, atol=1e-6)
        np.testing.assert_allclose(turned, seen, atol=FROM_THE_OTHER_END)


def walls(*columns_and_heights):
    """Return a plain with north-south walls, one column wide at the crest."""
    ground = np.zeros((601, 601))
    for column, height_m in columns_and_heights:
        ground[:, column] = height_m
    return ground


def test_the_score_is_the_sum_over_every_path_of_ridges():
    """Two walls before a third: the sum is made path by path, by another's law."""
    columns, heights = (310, 350, 480), (30.0, 120.0, 900.0)
    model = model_of(walls(*zip(columns, heights, strict=True)), -REACH_M)
    east = camera(math.radians(90.0))
    flat_y = np.array([0.0690, 0.0692, 0.0698, 0.0690])
    x = np.array([-0.05, -0.02, 0.01, 0.04])
    table = np.zeros((4, 6))
    table[:, 0], table[:, 1], table[:, 2] = x, flat_y, 1e-4
    table[:, 5] = 0.1
    trust = 0.6
    line = RidgeSamples(table, trust)
    sky = np.zeros((6, 5))
    sky[:, 1] = 0.2
    levels = scored(
        model,
        SkylineSamples(sky, DIAGONAL_PX, WIDTH_PX, HEIGHT_PX),
        (line,),
        0.0,
        0.0,
        east,
    )[0, :, 0]
    crests_m = (np.array(columns[:2]) - 300) * CELL_M
    spread = np.hypot(x, C)
    away_m = crests_m[None, :] * spread[:, None] / C
    tangent = (np.array(heights[:2]) - LENS_M) / away_m
    tangent -= model.curvature_per_m * away_m
    for level, rough in zip(levels, LEVELS, strict=True):
        m2 = rough**2 * (scoring.HEIGHT_SD_M**2 + (0.1 * scoring.LATERAL_M) ** 2)
        m2 += (0.1 * 25.0) ** 2 / 12.0
        below = 0.2 / C - flat_y / spread
        plate2 = (scoring.PLATE_SD**2 + 1e-8) / spread**2
        plate2 += (scoring.TILT_SD_RAD * below**2) ** 2
        sd = np.sqrt(m2 / away_m**2 + plate2[:, None])
        off = (flat_y / spread)[:, None] - tangent
        law = stats.t(df=scoring.FREEDOM).pdf(off / sd) / sd * scoring.ANYWHERE
        assert level == pytest.approx(path_by_path(law, trust), abs=1e-4)


def path_by_path(law, trust):
    """Return the score of a line by summing the chance of every path."""
    count, ridges = law.shape
    none = ridges
    total = 0.0
    for path in itertools.product(range(ridges + 1), repeat=count):
        chance = 1.0 - trust if path[0] == none else trust / ridges
        for before, after in itertools.pairwise(path):
            if before == none:
                step = scoring.TAKE_UP / ridges
                stay = 1.0 - scoring.TAKE_UP
            else:
                # What leaves a ridge goes to none or to any, half and half.
                stay = 0.5 * (1.0 - scoring.STAY)
                step = stay / ridges + (scoring.STAY if before == after else 0.0)
            chance *= stay if after == none else step
        for sample, state in enumerate(path):
            chance *= 1.0 if state == none else law[sample, state]
        total += chance
    once = 1.0 / scoring.SHARED_STRIPS
    return math.log(total) * (once + (1.0 - once) / count)
