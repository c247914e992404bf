"""Check, for each kind of double counting, that the naive sum is too sure and ours not.

Each case draws the same readings many times over, with the error that they share, and
asks how often the truth lies within what is claimed; or sets what is claimed beside
what one reading alone would allow.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from wherestood.earth.frame import Frame
from wherestood.evidence.dependence import repeats
from wherestood.evidence.in_line import weigh_in_line
from wherestood.evidence.in_lines_together import weigh_in_lines
from wherestood.evidence.items import (
    Evidence,
    Feature,
    InLine,
    Mark,
    Order,
    Plan,
    SkylinePiece,
    Statement,
    WaterLevel,
    gather,
)
from wherestood.evidence.joined import joined_skyline
from wherestood.evidence.joint_batch import JointPrior, joint_covariance
from wherestood.evidence.lean import Lean
from wherestood.evidence.marked import on_plate
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.placed import place_evidence
from wherestood.evidence.plate_rows import add_plate_rows
from wherestood.evidence.profile import Profiles
from wherestood.evidence.samples import SkylineSamples
from wherestood.evidence.stations import Stations
from wherestood.evidence.unknowns import COUNT
from wherestood.plate.skyline import Skyline
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain

FRAME = Frame.local(8.5, 46.1)
WIDTH_PX, HEIGHT_PX = 4000, 3000
LENS_M = 42.0
STATIONS = Stations(np.zeros(1), np.zeros(1), np.array([LENS_M]), lens_sd_m=0.01)
THETA = np.zeros(COUNT)
THETA[:2] = math.radians(90.0), math.log(0.9)
BEARING, TILT = 0, 2
LEAN = Lean(WIDTH_PX, HEIGHT_PX, 4500.0, 0.02, 0.02, 0.02)
#: Of 200 draws a true 68% region holds the truth 137 times, give or take 7; three of
#: these either way.
DRAWS, LEAST, MOST = 200, 117, 156
#: A claim that is off by more than this is no rounding.
CLEARLY = 1.5


def model() -> HorizonModel:
    heights = np.zeros((81, 161), dtype=np.float32)
    return HorizonModel.of(
        Terrain(heights, -4000.0, -2000.0, 50.0, FRAME, "ground", 50.0)
    )


def at(east_m: float, north_m: float, **more) -> Feature:
    lon, lat = FRAME.to_lonlat(np.array(east_m), np.array(north_m))
    return Feature((float(lon), float(lat)), **more)


def pixel(east_m: float, north_m: float, up_m: float) -> tuple[float, float]:
    """Return where the camera, level and looking east, shows a place."""
    drop = STATIONS.curvature_per_m * (east_m**2 + north_m**2)
    c_px = 0.9 * 5000.0
    return (
        2000.0 - c_px * north_m / east_m,
        1500.0 - c_px * (up_m - drop - LENS_M) / east_m,
    )


MODEL = model()


def told(
    evidence: Evidence, unknown: int, stations: Stations = STATIONS, **more
) -> tuple[float, float]:
    """Return estimate and standard error of one unknown, the others known."""
    seen = on_plate(evidence, MODEL, WIDTH_PX, HEIGHT_PX, **more)
    normal, right = np.zeros((COUNT, COUNT)), np.zeros(COUNT)
    handed = seen.handed(seen.aims(stations))
    add_plate_rows(THETA, handed, 0.0, True, False, normal, right, right[:0])
    information = normal[unknown, unknown]
    return -right[unknown] / information, 1.0 / math.sqrt(information)


def held(estimates, claimed) -> int:
    return int(np.count_nonzero(np.abs(estimates) < claimed))


# One feature in several items ---------------------------------------------------------


def test_one_feature_marked_twice_is_misplaced_once() -> None:
    # A tower whose place is known to 20 m: all marks of its foot and top are off alike.
    rng = np.random.default_rng(11)
    ours, naive = [], []
    sd_m, away_m = 20.0, 800.0
    for off_m in rng.normal(0.0, sd_m, DRAWS):
        tower = at(
            away_m,
            -off_m,
            id="tower",
            sd_m=sd_m,
            height_m=10.0,
            height_sd_m=0.1,
            object_height_m=40.0,
            object_height_sd_m=0.1,
        )
        marks = [
            Mark(*pixel(away_m, 0.0, 10.0), tower, id="foot", sd_px=0.5),
            Mark(*pixel(away_m, 0.0, 50.0), "tower", id="top", at="top", sd_px=0.5),
            Mark(*pixel(away_m, 0.0, 10.0), "tower", id="again", sd_px=0.5),
        ]
        ours.append(told(gather(marks), BEARING))
        alone = told(gather(marks[:1]), BEARING)
        naive.append((alone[0], alone[1] / math.sqrt(3.0)))
    estimates, claimed = np.array(ours).T
    assert LEAST <= held(estimates, claimed) <= MOST
    estimates, claimed = np.array(naive).T
    assert held(estimates, claimed) < LEAST


def test_features_of_one_plan_are_displaced_together() -> None:
    rng = np.random.default_rng(12)
    plan = Plan(id="sheet 4", shared_shift_sd_m=15.0)
    places = [(900.0, -200.0), (1000.0, 0.0), (950.0, 150.0), (900.0, 300.0)]
    ours, naive = [], []
    for shift_m in rng.normal(0.0, 15.0, DRAWS):
        marks = [
            Mark(
                *pixel(east, north, 20.0),
                at(
                    east,
                    north - shift_m,
                    id=f"f{n}",
                    sd_m=1.0,
                    height_m=20.0,
                    plan=plan,
                ),
                id=f"m{n}",
                sd_px=0.5,
            )
            for n, (east, north) in enumerate(places)
        ]
        ours.append(told(gather(marks), BEARING))
        apart = [told(gather([mark]), BEARING) for mark in marks]
        weight = np.array([1.0 / sd**2 for _, sd in apart])
        mean = float(weight @ [value for value, _ in apart] / weight.sum())
        naive.append((mean, 1.0 / math.sqrt(weight.sum())))
    estimates, claimed = np.array(ours).T
    assert LEAST <= held(estimates, claimed) <= MOST
    estimates, claimed = np.array(naive).T
    assert held(estimates, claimed) < LEAST


def test_one_feature_in_several_in_lines_errs_in_all_alike() -> None:
    spire = at(600.0, 0.0, id="spire", sd_m=10.0)
    crags = [at(3000.0, 30.0 * n, id=f"crag {n}", sd_m=0.5) for n in range(4)]
    items = [InLine(spire, crag, left_deg=0.0, id=f"i{n}", trust=0.999)
             for n, crag in enumerate(crags)]  # fmt: skip
    evidence = gather(items)
    placement = place_evidence(evidence, FRAME)
    norths = np.linspace(-40.0, 40.0, 161)
    stations = Stations(np.zeros(161), norths, np.full(161, LENS_M))
    together, _ = weigh_in_lines(evidence.in_lines, placement, stations, LEAN)
    apart = sum(
        weigh_in_line(item, placement, stations, LEAN).log_likelihood
        for item in evidence.in_lines
    )

    def spread(log) -> float:
        share = np.exp(log - log.max())
        share /= share.sum()
        mean = share @ norths
        return float(np.sqrt(share @ (norths - mean) ** 2))

    # Four readings of one misplaced spire place the camera no better than the spire is.
    assert spread(together) > 10.0
    assert spread(apart) < spread(together) / CLEARLY


def test_a_feature_on_two_plates_of_a_panorama_is_misplaced_once() -> None:
    # The camera turned by 20 degrees; both plates show a tower known to 20 m.
    sd_m, away_m, turn_rad = 20.0, 800.0, math.radians(20.0)
    tower = at(away_m, 0.0, id="tower", sd_m=sd_m, height_m=LENS_M, height_sd_m=0.1)
    told_of = []
    for plate, off_rad in enumerate((-0.5 * turn_rad, 0.5 * turn_rad)):
        x_px = WIDTH_PX / 2.0 - 0.9 * 5000.0 * math.tan(off_rad)
        mark = Mark(x_px, 1500.0, tower, id=f"on {plate}", sd_px=0.5)
        told_of.append(gather([mark]))
    thetas = np.stack([THETA, THETA])
    thetas[:, BEARING] += (-0.5 * turn_rad, 0.5 * turn_rad)
    own_sd = np.full((2, COUNT), 1e-6)
    own_sd[:, BEARING] = math.inf
    nothing = SkylineSamples(np.zeros((0, 5)), 5000.0, WIDTH_PX, HEIGHT_PX)

    def sds_rad(*among: Evidence) -> tuple[float, float]:
        """Return the standard errors of both bearings' mean and of the turn."""
        seen = [
            on_plate(one, MODEL, WIDTH_PX, HEIGHT_PX, among=among) for one in told_of
        ]
        spread = joint_covariance(
            thetas,
            [nothing, nothing],
            Profiles(np.ones((1, 4, 5)), np.zeros(1), np.full(1, 0.01)),
            STATIONS.curvature_per_m,
            JointPrior(thetas.copy(), np.zeros(COUNT), own_sd),
            0.0,
            np.log([0.45, 2.2]),
            SkylineNoise.usual("ground"),
            seen=seen,
            aims=[one.aims(STATIONS) for one in seen],
        )[:, BEARING, :, BEARING]
        turn = spread[0, 0] + spread[1, 1] - 2.0 * spread[0, 1]
        return math.sqrt(spread.mean()), math.sqrt(turn)

    mean_rad, turned_rad = sds_rad(*told_of)
    # As far as the tower is out, both bearings are, and the turn is not.
    assert mean_rad == pytest.approx(sd_m / away_m, rel=0.01)
    assert turned_rad < 0.01 * mean_rad
    alone_rad, apart_rad = sds_rad()
    # Taken for two towers their mean would be known better, and the turn worse.
    assert alone_rad * 1.3 < mean_rad
    assert apart_rad > mean_rad


# One water, one lens ------------------------------------------------------------------


def test_the_tide_is_one_error_of_all_points_of_a_water() -> None:
    rng = np.random.default_rng(13)
    lon, lat = FRAME.to_lonlat(np.full(2, 1500.0), np.array([-1200.0, 1200.0]))
    shore = Feature(
        shapely.LineString(np.column_stack((lon, lat))), id="shore", sd_m=0.5
    )
    norths = np.linspace(-500.0, 500.0, 5)
    ours, naive = [], []
    for tide_m in rng.normal(0.0, 1.0, DRAWS):
        points = [pixel(1500.0, float(n), tide_m) for n in norths]
        water = WaterLevel(tuple(points), shore, height_m=0.0, sd_px=0.5)
        ours.append(told(gather([water]), TILT))
        each = [
            told(gather([replace(water, points_px=(point,))]), TILT) for point in points
        ]
        weight = np.array([1.0 / sd**2 for _, sd in each])
        mean = float(weight @ [value for value, _ in each] / weight.sum())
        naive.append((mean, 1.0 / math.sqrt(weight.sum())))
    estimates, claimed = np.array(ours).T
    assert LEAST <= held(estimates, claimed) <= MOST
    estimates, claimed = np.array(naive).T
    assert held(estimates, claimed) < LEAST


def test_the_height_of_the_lens_is_one_error_of_all_marks() -> None:
    # All straight ahead: aside, a tilt would show in the bearings.
    rng = np.random.default_rng(14)
    wide = replace(STATIONS, lens_sd_m=2.0)
    ours, naive = [], []
    for high_m in rng.normal(0.0, 2.0, DRAWS):
        marks = [
            Mark(
                *pixel(60.0, 0.0, up - high_m),
                at(60.0, 0.0, id=f"f{n}", sd_m=0.02, height_m=up, height_sd_m=0.01),
                id=f"m{n}",
                sd_px=0.5,
            )
            for n, up in enumerate((41.6, 41.9, 42.1, 42.4))
        ]
        ours.append(told(gather(marks), TILT, stations=wide))
        each = [told(gather([mark]), TILT, stations=wide) for mark in marks]
        mean = float(np.mean([value for value, _ in each]))
        naive.append((mean, each[0][1] / 2.0))
    estimates, claimed = np.array(ours).T
    assert LEAST <= held(estimates, claimed) <= MOST
    estimates, claimed = np.array(naive).T
    assert held(estimates, claimed) < LEAST


# What only repeats --------------------------------------------------------------------


def skyline_table(height: float) -> np.ndarray:
    x = np.linspace(-0.39, 0.39, 30)
    y = height - 0.15 * np.abs(x - 0.05)
    return np.column_stack((x, y, np.full(30, 4e-4), np.zeros((30, 2))))


def test_a_mark_on_a_peak_of_the_skyline_tells_its_bearing_alone() -> None:
    # The summit's height on the plate is the skyline's reading already.
    table = skyline_table(0.06)
    top = table[np.argmax(table[:, 1])]
    x_px, y_px = 2000.0 + 5000.0 * top[0], 1500.0 - 5000.0 * top[1]
    north_m, up_m = -3000.0 * top[0] / 0.9, LENS_M + 3000.0 * top[1] / 0.9
    peak = at(3000.0, north_m, id="peak", sd_m=5.0, height_m=up_m, height_sd_m=2.0)
    mark = Mark(float(x_px), float(y_px), peak, id="m")
    evidence = gather([mark])
    alone, beside = told(evidence, TILT), told(evidence, TILT, skyline=table)
    assert beside[1] > 10.0 * alone[1]
    # Its bearing the skyline does not tell: that counts in full.
    assert told(evidence, BEARING, skyline=table)[1] == pytest.approx(
        told(evidence, BEARING)[1], rel=0.05
    )
    # A mark below the line is a reading of its own.
    spur = replace(peak, id="spur", height_m=up_m - 3000.0 * 200.0 / 4500.0)
    lower = gather([replace(mark, y_px=float(y_px) + 200.0, features=spur)])
    assert told(lower, TILT, skyline=table)[1] == pytest.approx(told(lower, TILT)[1])


def test_an_order_read_off_two_marks_says_nothing_new() -> None:
    a, b = at(900.0, 100.0, id="a"), at(1100.0, -100.0, id="b")
    marks = [Mark(1500.0, 1500.0, a, id="A"), Mark(2500.0, 1500.0, b, id="B")]
    order = Order("A", "B", "left of", id="order")
    between = InLine("A", "B", left_deg=12.0, id="spacing")
    evidence = gather([*marks, order, between])
    assert set(repeats(evidence)) == {"order", "spacing"}
    # Of a detail that is no mark it is a reading of its own.
    assert repeats(gather([*marks, Order("a", "B", "left of", id="o")])) == {}


def test_a_copied_caption_is_one_witness() -> None:
    road = at(0.0, 0.0, id="mill")
    first = Statement(road, "within", id="sleeve", weight=0.6)
    copies = [
        Statement(
            "mill", "within", id=f"copy {n}", weight=0.6, derived_from=("sleeve",)
        )
        for n in range(3)
    ]
    evidence = gather([first, *copies])
    assert set(repeats(evidence)) == {copy.id for copy in copies}
    # Four witnesses that each err in four of ten would leave 2.6% to all: one has 40%.
    counted = [s for s in evidence.statements if s.id not in repeats(evidence)]
    left = math.prod(1.0 - s.weight for s in counted)
    naive = math.prod(1.0 - s.weight for s in evidence.statements)
    assert left == pytest.approx(0.4)
    assert naive < 0.03


def test_ground_drawn_from_a_statement_is_not_told_by_it_again() -> None:
    mill = at(0.0, 0.0, id="mill")
    evidence = replace(
        gather([Statement(mill, "within", id="caption")]), ground_from=("caption",)
    )
    assert set(repeats(evidence)) == {"caption"}


def test_a_line_mended_beside_the_computed_horizon_is_trusted_less() -> None:
    count = 400
    line = Skyline(
        np.linspace(0.5, 3999.5, count),
        np.full(count, 1000.0),
        np.full(count, 2.0),
        WIDTH_PX,
        HEIGHT_PX,
        np.zeros(count, dtype=bool),
    )
    blind = joined_skyline((SkylinePiece(line),))
    mended = joined_skyline((SkylinePiece(line, traced_blind=False),))
    assert blind is not None
    assert mended is not None
    np.testing.assert_array_equal(blind.sd_px, line.sd_px)
    # 12 px on a scan of 4000: a hand follows what it is shown so nearly.
    np.testing.assert_allclose(mended.sd_px, np.hypot(2.0, 12.0))
    kept = joined_skyline((SkylinePiece(replace(line, blind=False)),))
    assert kept is not None
    np.testing.assert_allclose(kept.sd_px, mended.sd_px)


def test_a_mark_read_with_sight_of_the_answer_is_sooner_a_blunder() -> None:
    peak = at(3000.0, -170.0, id="peak", height_m=240.0)
    blind = Mark(2200.0, 1300.0, peak, id="m")
    seen = replace(blind, traced_blind=False)
    assert seen.credence < blind.credence == blind.trust
    assert replace(seen, trust=0.5).credence == 0.5
