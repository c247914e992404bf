"""Check upright edges, waters and sizes against the camera, and their derivatives."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from wherestood.camera import Camera, axes, project
from wherestood.earth.curvature import sea_horizon_dip_rad
from wherestood.earth.frame import Frame
from wherestood.evidence.item_rows import (
    ACROSS,
    EDGE,
    UPRIGHT,
    _two_ends,
)
from wherestood.evidence.items import (
    Evidence,
    Feature,
    KnownSize,
    Mark,
    PlumbEdge,
    SeaHorizon,
    WaterLevel,
    gather,
)
from wherestood.evidence.lens_height import LensHeight
from wherestood.evidence.marked import on_plate
from wherestood.evidence.mode import fit_mode
from wherestood.evidence.plate_items import points_on_plate
from wherestood.evidence.plate_rows import (
    OnPlate,
    add_plate_rows,
    plate_state,
)
from wherestood.evidence.stations import Stations
from wherestood.evidence.unknowns import CAMERA, COUNT, UNKNOWNS
from wherestood.evidence.water_rows import LEVEL, NO_EDGE, water_point
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain

WIDTH_PX, HEIGHT_PX, DIAGONAL_PX = 4000, 3000, 5000.0
FRAME = Frame.local(8.5, 46.1)
ROUNDING = 1e-9
# Central differences of 1e-6 leave their square times third derivatives, and rounding.
DIFFERENCES = 2e-8
#: A decimetre over a kilometre: lines of sight are straight to that within a cell.
STRAIGHT = 1e-4

THETA = np.zeros(COUNT)
THETA[:6] = [np.radians(80.0), np.log(0.9), 0.03, -0.02, 0.04, -0.02]
LENS_M = 42.0

# What is believed of a view camera; the bearing flat, the cell 100 m.
SD = np.full(COUNT, 1e-6)
SD[0] = np.inf
SD[1:CAMERA] = [0.3, 0.026, 0.026, 0.06, 0.02, 0.01, 0.003, 0.002, 0.002]
SD[-2:] = 100.0 / np.sqrt(12.0)
PRECISION = np.where(np.isfinite(SD), SD, np.inf) ** -2.0
LEVELS = np.array([[4.0, 500.0, 1.5, 60.0, 0.4, 10.0, 1.0]])


def camera_of(theta) -> Camera:
    return Camera(
        bearing_rad=theta[0],
        tilt_rad=theta[2],
        roll_rad=theta[3],
        principal_distance_px=float(np.exp(theta[1])) * DIAGONAL_PX,
        rise_px=theta[4] * DIAGONAL_PX,
        cross_px=theta[5] * DIAGONAL_PX,
        k1=theta[6],
        width_px=WIDTH_PX,
        height_px=HEIGHT_PX,
    )


def drawn(places_m, theta=THETA, lens_m: float = LENS_M):
    """Return where a camera at the origin draws places, drop included."""
    rays = np.asarray(places_m, dtype=np.float64) - [0.0, 0.0, lens_m]
    rays[:, 2] -= STATIONS.curvature_per_m * np.sum(rays[:, :2] ** 2, axis=1)
    x, y = project(camera_of(theta), rays)
    return [(float(a), float(b)) for a, b in zip(x, y, strict=True)]


STATIONS = Stations(np.zeros(1), np.zeros(1), np.array([LENS_M]), lens_sd_m=0.1)


def flat(height_m: float = 0.0, water=None) -> HorizonModel:
    shape = (81, 161)
    heights = np.full(shape, height_m, dtype=np.float32)
    return HorizonModel.of(
        Terrain(heights, -4000.0, -2000.0, 50.0, FRAME, "ground", 50.0, water=water)
    )


def seen_of(*items, model: HorizonModel | None = None) -> OnPlate:
    return on_plate(gather(items), model or flat(), WIDTH_PX, HEIGHT_PX)


def at(east_m: float, north_m: float, **more) -> Feature:
    lon, lat = FRAME.to_lonlat(np.array(east_m), np.array(north_m))
    return Feature((float(lon), float(lat)), **more)


def line_at(points_m, **more) -> Feature:
    east, north = np.asarray(points_m, dtype=np.float64).T
    lon, lat = FRAME.to_lonlat(east, north)
    return Feature(shapely.LineString(np.column_stack((lon, lat))), **more)


def climbed(seen: OnPlate, start=None, stations: Stations = STATIONS, rounds: int = 12):
    """Climb by what is marked alone; return log density, camera and covariance."""
    begin = np.zeros(COUNT)
    begin[:2] = THETA[:2]
    mean = np.zeros(COUNT)
    mean[1] = np.log(0.9)
    theta, covariance = np.zeros(COUNT), np.empty((COUNT, COUNT))
    score = fit_mode(
        begin if start is None else start, np.zeros((0, 5)), np.full((360, 5), 0.05),
        stations.curvature_per_m, mean, PRECISION, np.log([0.45, 2.2]), LEVELS,
        np.zeros(1), 0, -3.0, rounds, 3, seen.handed(seen.aims(stations)), theta,
        covariance, np.empty(0), np.empty(1), 1.0, False,
    )  # fmt: skip
    return score, theta, covariance


# Residuals -------------------------------------------------------------------------

TOWER = [(640.0, 60.0, 20.0), (640.0, 60.0, 95.0)]


def ends(kind: int, points_px, theta=THETA):
    """Return residual, derivatives by the unknowns and by X_1, Y_1, X_2, Y_2."""
    points = points_on_plate(points_px, 2.0, WIDTH_PX, HEIGHT_PX)
    item = np.array([kind, 0, 2, 0.0, 0.0, 0.0, 0.0])
    rows, found = np.zeros((2, COUNT)), np.empty(5)
    _two_ends(theta, item, points, rows, np.zeros((2, COUNT)), found)
    return found[0], rows[0], found[1:]


@pytest.mark.parametrize("east", [(500.0, 300.0), (640.0, 60.0), (900.0, -300.0)])
def test_an_upright_edge_leans_by_nothing_wherever_it_stands(east) -> None:
    points = drawn([(*east, 15.0), (*east, 80.0)])
    assert ends(EDGE, points)[0] == pytest.approx(0.0, abs=ROUNDING)


def test_an_upright_edge_passes_through_the_vertical_vanishing_point() -> None:
    first, second = np.array(drawn(TOWER))
    # The image of the zenith, from the rotation alone.
    camera = camera_of(THETA)
    right, up, forward = axes(camera)
    zenith = np.array([right[2], up[2], forward[2]])
    c_px = camera.principal_distance_px
    x = WIDTH_PX / 2.0 - camera.cross_px + c_px * zenith[0] / zenith[2]
    y = HEIGHT_PX / 2.0 + camera.rise_px - c_px * zenith[1] / zenith[2]
    along, to_point = second - first, np.array([x, y]) - first
    aside = along[0] * to_point[1] - along[1] * to_point[0]
    assert aside / np.linalg.norm(along) == pytest.approx(0.0, abs=1e-3)
    # Where the image does not, the edge leans.
    assert abs(ends(EDGE, [(first[0] + 20.0, first[1]), tuple(second)])[0]) > 0.01


def test_what_a_post_leans_across_the_sight_is_the_residual() -> None:
    lean = math.radians(4.0)
    way = np.array([60.0, -640.0]) / math.hypot(640.0, 60.0)
    top = (*(np.array(TOWER[0][:2]) + 75.0 * math.tan(lean) * way), 95.0)
    found = ends(EDGE, drawn([TOWER[0], top]))[0]
    # Its top is as far off as its foot to a metre in 600.
    assert abs(found) == pytest.approx(lean, rel=0.01)


def test_a_known_height_spans_its_length_over_its_distance() -> None:
    found = ends(UPRIGHT, drawn(TOWER))[0]
    distance = math.hypot(*TOWER[0][:2])
    assert found == pytest.approx(math.log(75.0 / distance), abs=ROUNDING)


def test_a_known_width_spans_its_length_over_its_distance() -> None:
    middle = np.array([800.0, 150.0])
    way = np.array([-middle[1], middle[0]]) / np.linalg.norm(middle)
    gable = [(*(middle + half * way), 30.0) for half in (-12.0, 12.0)]
    found = ends(ACROSS, drawn(gable))[0]
    expected = math.log(24.0 / np.linalg.norm(middle))
    assert found == pytest.approx(expected, abs=ROUNDING)


@pytest.mark.parametrize("kind", [EDGE, UPRIGHT, ACROSS])
@pytest.mark.parametrize("name", UNKNOWNS[:CAMERA])
def test_derivatives_of_two_ends_by_each_unknown(kind: int, name: str) -> None:
    points = [(900.0, 2300.0), (1330.0, 700.0)]
    _, row, _ = ends(kind, points)
    step = np.zeros(COUNT)
    step[UNKNOWNS.index(name)] = 1e-6
    above, below = (ends(kind, points, THETA + sign * step)[0] for sign in (1, -1))
    scale = max(1.0, float(np.abs(row).max()))
    assert row[UNKNOWNS.index(name)] == pytest.approx(
        (above - below) / 2e-6, abs=DIFFERENCES * scale
    )


@pytest.mark.parametrize("kind", [EDGE, UPRIGHT, ACROSS])
def test_derivatives_of_two_ends_by_their_places(kind: int) -> None:
    points = np.array([(900.0, 2300.0), (1330.0, 700.0)])
    _, _, by_place = ends(kind, points)
    for index in range(4):
        step = np.zeros(4)
        step[index] = 0.01 if index % 2 == 0 else -0.01  # up is up
        above, below = (
            ends(kind, points + sign * step.reshape(2, 2))[0] for sign in (1, -1)
        )
        expected = (above - below) / (0.02 / DIAGONAL_PX)
        assert by_place[index] == pytest.approx(expected, rel=1e-6, abs=1e-6)


# Waters ----------------------------------------------------------------------------


def test_dip_of_the_sea_is_that_of_the_tables() -> None:
    seen = seen_of(SeaHorizon(((100.0, 1500.0),)))
    table = seen.items.levels(STATIONS)[0, 0]
    expected = -math.tan(sea_horizon_dip_rad(LENS_M, refraction=STATIONS.refraction))
    assert table[:, 0] == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("column", ["level", "lens", "refraction"])
@pytest.mark.parametrize("sea", [True, False])
def test_derivatives_of_a_waters_edge(column: str, sea: bool) -> None:
    shore = line_at([(1500.0, -1200.0), (1300.0, 1200.0)], id="shore", sd_m=8.0)
    items = {
        True: SeaHorizon(((100.0, 1500.0),), height_sd_m=2.0),
        False: WaterLevel(((100.0, 1500.0),), shore, height_m=0.0, height_sd_m=2.0),
    }
    way = 180  # of 720 or 90 of 360: east

    def tangent(step: float) -> float:
        item, stations = items[sea], STATIONS
        if column == "level":
            item = replace(item, height_m=step)
        elif column == "lens":
            stations = replace(stations, lens_m=stations.lens_m + step)
        else:
            k = 1.0 - (1.0 - stations.refraction) * (1.0 - step)
            stations = replace(stations, refraction=k)
        table = seen_of(item).items.levels(stations)[0, 0]
        return float(table[way // 2 if sea else way, 0])

    step = 1e-3
    slope = (tangent(step) - tangent(-step)) / (2.0 * step)
    row = seen_of(items[sea]).items.levels(STATIONS)[0, 0][way // 2 if sea else way]
    expected = {"level": row[7] / 2.0, "lens": row[5] / 0.1, "refraction": row[6]}
    assert slope == pytest.approx(expected[column], rel=1e-4)


def test_a_waters_edge_moves_with_the_station() -> None:
    shore = line_at([(1500.0, -1200.0), (1300.0, 1200.0)], id="shore")
    seen = seen_of(WaterLevel(((100.0, 1500.0),), shore, height_m=0.0))
    row = seen.items.levels(STATIONS)[0, 0, 190]

    def tangent(east_m: float, north_m: float) -> float:
        moved = replace(
            STATIONS, east_m=np.array([east_m]), north_m=np.array([north_m])
        )
        return float(seen.items.levels(moved)[0, 0, 190, 0])

    east = (tangent(1.0, 0.0) - tangent(-1.0, 0.0)) / 2.0
    north = (tangent(0.0, 1.0) - tangent(0.0, -1.0)) / 2.0
    # The shore's slope is taken over two bearings, half a degree apart.
    assert row[2] == pytest.approx(east, rel=1e-3)
    assert row[3] == pytest.approx(north, rel=0.01)


def test_derivatives_of_a_waters_point_by_each_unknown() -> None:
    shore = line_at([(1500.0, -1200.0), (1300.0, 1200.0)], id="shore")
    seen = seen_of(WaterLevel(((1700.0, 1900.0),), shore, height_m=0.0))
    table = seen.items.levels(STATIONS)[0, 0]
    point = seen.items.points[0]

    def residual(theta):
        rows, found = np.zeros((2, COUNT)), np.empty(5)
        there = water_point(theta, point, table, rows, np.empty(LEVEL), found)
        assert there
        return found[0], rows[0]

    _, row = residual(THETA)
    for index in range(CAMERA):
        step = np.zeros(COUNT)
        step[index] = 1e-6
        above, below = (residual(THETA + sign * step)[0] for sign in (1, -1))
        # Between bearings of the table the slope is that over the nodes about it.
        expected = (above - below) / 2e-6
        assert row[index] == pytest.approx(expected, rel=0.03, abs=1e-5)


def test_a_shore_is_found_in_the_terrain_beyond_the_near_one() -> None:
    column = np.arange(161) * 50.0 - 4000.0
    profile = np.where(column < 300.0, 6.0 - 0.01 * column, 2.0)
    profile = np.where(column > 1210.0, 4.0 + 0.05 * (column - 1210.0), profile)
    heights = np.tile(profile.astype(np.float32), (81, 1))
    model = HorizonModel.of(
        Terrain(heights, -4000.0, -2000.0, 50.0, FRAME, "ground", 50.0)
    )
    seen = seen_of(WaterLevel(((100.0, 1500.0),)), model=model)
    table = seen.items.levels(STATIONS)[0, 0]
    east = table[len(table) // 4]
    distance = 1.0 / (-east[5] / 0.1)
    assert distance == pytest.approx(1225.0, abs=50.0)  # a cell of the model
    expected = (2.0 - LENS_M) / distance - STATIONS.curvature_per_m * distance
    assert east[0] == pytest.approx(expected, rel=1e-9)
    assert table[3 * len(table) // 4, 0] == NO_EDGE  # no water to the west


def test_land_before_the_sea_has_no_sea_horizon() -> None:
    heights = np.zeros((81, 161), dtype=np.float32)
    heights[:, 140:] = 60.0
    model = HorizonModel.of(
        Terrain(heights, -4000.0, -2000.0, 50.0, FRAME, "ground", 50.0)
    )
    seen = seen_of(SeaHorizon(((100.0, 1500.0),)), model=model)
    table = seen.items.levels(STATIONS)[0, 0, :, 0]
    assert table[len(table) // 4] == NO_EDGE
    assert table[3 * len(table) // 4] > NO_EDGE


def test_water_that_is_not_there_is_a_blunder_and_no_number_fails() -> None:
    heights = np.zeros((81, 161), dtype=np.float32)
    heights[:, 120:] = 60.0  # land to the east, where the camera looks
    model = HorizonModel.of(
        Terrain(heights, -4000.0, -2000.0, 50.0, FRAME, "ground", 50.0)
    )
    level = SeaHorizon(((1000.0, 1800.0), (3000.0, 1850.0)))
    seen = seen_of(level, *EDGES, model=model)
    score, theta, _ = climbed(seen)
    _, other, _ = climbed(seen.without({level.id}))
    assert np.isfinite(score)
    np.testing.assert_allclose(theta, other, atol=1e-9)
    state = plate_state(seen, seen.aims(STATIONS), theta)
    assert np.isfinite(state.item_odds).all()
    assert state.item_odds[-1] > 100.0


# What they tell --------------------------------------------------------------------


def edge_at(east_m: float, north_m: float, **more) -> PlumbEdge:
    points = drawn([(east_m, north_m, 10.0), (east_m, north_m, 70.0)])
    return PlumbEdge((points[0], points[1]), **more)


EDGES = [
    edge_at(500.0, 250.0),
    edge_at(600.0, 60.0),
    edge_at(700.0, -150.0),
    edge_at(500.0, -60.0),
]


def test_upright_edges_tell_tilt_and_roll() -> None:
    _, theta, covariance = climbed(seen_of(*EDGES))
    sd = np.sqrt(np.diag(covariance))
    assert sd[3] < 0.3 * SD[3]
    # What their tops lean together by is a tilt, or a rise it is not.
    assert sd[2] < SD[2]
    assert theta[3] == pytest.approx(THETA[3], abs=3.0 * sd[3])


def test_one_leaning_post_is_named_a_blunder_and_pulls_nothing() -> None:
    _, alone, _ = climbed(seen_of(*EDGES))
    (x0, y0), (x1, y1) = EDGES[1].points_px
    post = replace(EDGES[1], points_px=((x0, y0), (x1 + 45.0, y1)), id="post")
    seen = seen_of(*EDGES, post)
    _, theta, _ = climbed(seen)
    np.testing.assert_allclose(theta, alone, atol=1e-9)
    odds = plate_state(seen, seen.aims(STATIONS), theta).item_odds
    assert odds[-1] > 2.0
    assert np.all(odds[:-1] < -2.0)


def test_a_blunder_costs_no_more_however_far_it_leans() -> None:
    (x0, y0), (x1, y1) = EDGES[1].points_px
    scores = []
    for lean_px in (60.0, 120.0):
        post = replace(EDGES[1], points_px=((x0, y0), (x1 + lean_px, y1)), id="post")
        scores.append(climbed(seen_of(*EDGES, post))[0])
    assert scores[0] == pytest.approx(scores[1], abs=1e-6)


@pytest.mark.parametrize("lies", ["upright", "across"])
def test_a_known_size_tells_how_far_off_its_feature_is(lies: str) -> None:
    mast = at(640.0, 60.0, id="mast", sd_m=1.0)
    if lies == "upright":
        points = drawn(TOWER)
    else:
        way = np.array([-60.0, 640.0]) / math.hypot(640.0, 60.0)
        ends_m = [
            (*(np.array([640.0, 60.0]) + half * way), 30.0) for half in (-37.5, 37.5)
        ]
        points = drawn(ends_m)
    size = KnownSize((points[0], points[1]), 75.0, 0.5, lies, mast, id="mast's size")
    seen = seen_of(size)
    sharp = PRECISION.copy()
    sharp[1] = 1e6  # the lens known
    normal, right = np.diag(sharp), np.zeros(COUNT)
    normal[0, 0] += 1.0
    handed = seen.handed(seen.aims(STATIONS))
    add_plate_rows(THETA, handed, 0.0, True, False, normal, right, right[:0])
    whole = np.linalg.inv(normal + np.tril(normal, -1).T)
    # 640 m at 0.7% of length, 1 m of place and a few pixels in 500.
    way = np.array([640.0, 60.0]) / math.hypot(640.0, 60.0)
    along = way @ whole[-2:, -2:] @ way
    assert math.sqrt(along) < 8.0
    aside = np.array([-way[1], way[0]])
    assert math.sqrt(aside @ whole[-2:, -2:] @ aside) > 25.0
    state = plate_state(seen, seen.aims(STATIONS), THETA)
    assert state.item_off[0, 0] == pytest.approx(0.0, abs=STRAIGHT)


def test_a_size_at_no_known_distance_tells_the_distance_and_moves_nothing() -> None:
    points = drawn(TOWER)
    seen = seen_of(KnownSize((points[0], points[1]), 75.0, 0.5))
    _, _, covariance = climbed(seen)
    sd = np.sqrt(np.diag(covariance))
    assert sd[1] > 0.95 * SD[1]
    assert sd[-1] == pytest.approx(SD[-1], rel=1e-6)
    state = plate_state(seen, seen.aims(STATIONS), THETA)
    distance_m = 150.0 * math.exp(-state.item_off[0, 0])
    assert distance_m == pytest.approx(math.hypot(640.0, 60.0), rel=1e-3)


def test_a_size_at_a_known_distance_tells_the_lens() -> None:
    points = drawn(TOWER)
    far = KnownSize(
        (points[0], points[1]), 75.0, 0.5, distance_m=643.0, distance_sd_m=6.0
    )
    _, theta, covariance = climbed(seen_of(far))
    assert math.sqrt(covariance[1, 1]) < 0.03
    assert theta[1] == pytest.approx(THETA[1], abs=0.03)


def test_sea_horizon_tells_roll_and_where_the_axis_is_level() -> None:
    turn = THETA[0] + np.radians([-15.0, 0.0, 14.0])
    away = 1e5  # a direction is all that counts
    tangent = -math.tan(sea_horizon_dip_rad(LENS_M, refraction=STATIONS.refraction))
    rays = np.column_stack((np.sin(turn), np.cos(turn), np.full(3, tangent))) * away
    x, y = project(camera_of(THETA), rays)
    points = tuple((float(a), float(b)) for a, b in zip(x, y, strict=True))
    seen = seen_of(SeaHorizon(points, sd_px=3.0))
    _, theta, covariance = climbed(seen)
    assert math.sqrt(covariance[3, 3]) < math.radians(0.25)
    assert theta[3] == pytest.approx(THETA[3], abs=math.radians(0.25))
    assert np.all(plate_state(seen, seen.aims(STATIONS), THETA).item_odds < -2.0)


def test_a_line_that_is_no_water_is_named_a_blunder() -> None:
    shore = line_at([(1500.0, -1200.0), (1500.0, 1200.0)], id="shore")
    places = [(1500.0, north, 0.0) for north in (-100.0, 200.0, 500.0)]
    points = drawn(places)
    wrong = tuple((x, y - 400.0) for x, y in points)
    items = [
        WaterLevel(tuple(points), shore, height_m=0.0, id="right"),
        WaterLevel(wrong, "shore", height_m=0.0, id="wrong"),
    ]
    seen = seen_of(*items)
    odds = plate_state(seen, seen.aims(STATIONS), THETA).item_odds
    assert odds[0] < -2.0
    assert odds[1] > 5.0


# Errors that are shared -------------------------------------------------------------


def information(seen: OnPlate, stations: Stations = STATIONS, theta=THETA):
    normal, right = np.zeros((COUNT, COUNT)), np.zeros(COUNT)
    square, log_det = add_plate_rows(
        theta, seen.handed(seen.aims(stations)), 0.0, True, False, normal, right,
        right[:0],
    )  # fmt: skip
    return normal + np.tril(normal, -1).T, square, log_det


def test_the_height_of_one_water_counts_once_however_many_points_name_it() -> None:
    shore = line_at([(1500.0, -1200.0), (1500.0, 1200.0)], id="shore", sd_m=1.0)
    norths = np.linspace(-300.0, 600.0, 30)
    points = drawn([(1500.0, float(n), 0.0) for n in norths])

    def tilt_sd(count: int) -> float:
        seen = seen_of(WaterLevel(tuple(points[:: 30 // count]), shore, height_m=0.0))
        return 1.0 / math.sqrt(information(seen)[0][2, 2])

    # A metre of tide at 1.5 to 1.6 km: no number of points tells the axis better.
    least = 1.0 / 1620.0
    assert tilt_sd(3) > least
    assert tilt_sd(30) > least
    two = seen_of(
        WaterLevel(tuple(points[::2]), shore, height_m=0.0, id="one"),
        WaterLevel(tuple(points[1::2]), "shore", height_m=0.0, id="two"),
    )
    assert 1.0 / math.sqrt(information(two)[0][2, 2]) > least


def test_the_lens_height_is_one_error_of_all_marks() -> None:
    near = [(60.0, 5.0, 41.0), (55.0, -10.0, 41.5), (62.0, 20.0, 40.5)]
    # Drawn from a lens two metres higher: one standard error, of three marks as of one.
    points = drawn(near, lens_m=LENS_M + 2.0)
    marks = [
        Mark(
            *point,
            at(*place[:2], id=f"f{n}", sd_m=0.05, height_m=place[2], height_sd_m=0.01),
            id=f"m{n}",
        )
        for n, (place, point) in enumerate(zip(near, points, strict=True))
    ]
    high = replace(STATIONS, lens_sd_m=2.0)
    squares = [information(seen_of(*marks[:count]), high)[1] for count in (1, 3)]
    assert squares == pytest.approx([1.0, 1.0], abs=0.05)


def test_cover_tells_of_the_lens_height_what_it_can() -> None:
    place = (60.0, 5.0, 41.0)
    mark = Mark(*drawn([place])[0], at(60.0, 5.0, id="f", sd_m=0.05, height_m=41.0))
    sd, mean, cover_sd = np.array([3.0]), 8.0, 6.0
    error = LensHeight.beside_cover(sd, mean, cover_sd)
    beside = replace(STATIONS, lens_height=error)
    alone = replace(STATIONS, lens_height=LensHeight.alone(sd))
    seen = seen_of(mark)
    # Cover integrated out with its own prior leaves what the lens alone would.
    joint, square, log_det = information(seen, beside)
    normal, right = np.zeros((COUNT, COUNT)), np.zeros(COUNT)
    add_plate_rows(
        THETA, seen.handed(seen.aims(beside)), 0.0, True, False, normal, right,
        right[:0],
    )  # fmt: skip
    prior = 1.0 / (sd[0] ** 2 + cover_sd**2)
    pivot = joint[CAMERA, CAMERA] + prior
    slope = right[CAMERA] - prior * mean
    square += prior * mean**2 - slope**2 / pivot
    log_det += math.log(pivot / prior)
    reduced = joint - np.outer(joint[CAMERA], joint[CAMERA]) / pivot
    expected, whole_square, whole_log_det = information(seen, alone)
    keep = [0, 1, 2, 3, 4, 5, COUNT - 2, COUNT - 1]
    np.testing.assert_allclose(
        reduced[np.ix_(keep, keep)], expected[np.ix_(keep, keep)], rtol=1e-6, atol=1e-6
    )
    assert square == pytest.approx(whole_square, rel=1e-6, abs=1e-9)
    assert log_det == pytest.approx(whole_log_det, rel=1e-6)


def test_nothing_marked_is_nothing_added() -> None:
    seen = on_plate(Evidence(), flat(), WIDTH_PX, HEIGHT_PX)
    assert not seen.any
    found, square, log_det = information(seen)
    assert not found.any()
    assert (square, log_det) == (0.0, 0.0)


def test_what_is_left_out_adds_nothing() -> None:
    named = [replace(edge, id=f"e{n}") for n, edge in enumerate(EDGES)]
    seen = seen_of(*named).without({"e0", "e2"})
    kept = information(seen_of(named[1], named[3]))
    found = information(seen)
    np.testing.assert_allclose(found[0], kept[0])
    assert [item.id for item in seen.items.items] == ["e1", "e3"]


def test_a_mirrored_plate_shows_the_mirrored_edges() -> None:
    turned = [
        replace(
            edge,
            points_px=tuple((WIDTH_PX - x, y) for x, y in edge.points_px),
            id=f"t{n}",
        )
        for n, edge in enumerate(EDGES)
    ]
    seen, other = seen_of(*EDGES).mirrored(), seen_of(*turned)
    np.testing.assert_allclose(seen.items.points, other.items.points, atol=1e-12)
