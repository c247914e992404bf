"""Check the station from marks alone against OpenCV's resection of a known camera.

SOURCE
OpenCV (opencv-python-headless), ``solvePnP`` (SQPnP, then Levenberg-Marquardt): the
pose of a camera of known principal distance and principal point from points on the
ground and their pixels.

Transformed: curvature and refraction lower every point, ``(1 - k) d^2 / 2R``, before
OpenCV, which knows a flat earth, sees it. Ours is told the principal distance to
0.01 mm; principal point and radial term are what it expects of a lens, and marks
without error leave them there. OpenCV gets the radial term by the series of
``test_against_opencv.py``.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import shapely
from PIL import Image

from wherestood.camera.priors import camera_prior
from wherestood.earth.curvature import curvature_radius_m
from wherestood.earth.frame import Frame
from wherestood.evidence.batch import score_stations
from wherestood.evidence.items import Evidence, Feature, Mark, gather
from wherestood.evidence.stations import Stations
from wherestood.fix.area import Area
from wherestood.fix.first_cameras import first_cameras
from wherestood.fix.problem import Problem, set_up
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate
from wherestood.terrain.model import Terrain

A_DECIMETRE = 0.1
# What the solution itself leaves on data without error.
OPENCV_M = 1e-3
FRAME = Frame.local(-27.5, 41.2)
GROUND_M, LENS_M = 100.0, 1.5
PX_PER_MM, WIDTH_PX, HEIGHT_PX = 10.0, 1200, 900
PRINCIPAL_MM = 130.0
REFRACTION = 0.13
STATION_M = np.array([64.0, -37.0, GROUND_M + LENS_M])

# Bearing from the station [deg], distance and height [m]: steeples, crags, summits.
SEEN = np.array(
    [[20, 380, 130], [31, 900, 175], [40, 520, 108], [47, 2400, 420], [55, 1300, 210],
     [60, 700, 96], [24, 1900, 330], [51, 450, 160]]
)  # fmt: skip


@pytest.fixture(scope="module")
def points_m() -> np.ndarray:
    bearing, away, height = SEEN.astype(np.float64).T
    turn = np.radians(bearing)
    east, north = STATION_M[:2, None] + away * np.stack((np.sin(turn), np.cos(turn)))
    return np.column_stack((east, north, height))


@pytest.fixture(scope="module")
def lowered_m(points_m: np.ndarray) -> np.ndarray:
    """Return the points as a flat earth has them, seen from the station."""
    away2 = np.sum((points_m - STATION_M)[:, :2] ** 2, axis=1)
    drop = (1.0 - REFRACTION) * away2 / (2.0 * float(curvature_radius_m(41.2)))
    return points_m - np.column_stack((np.zeros((len(drop), 2)), drop))


@pytest.fixture(scope="module")
def matrix() -> np.ndarray:
    c_px = PRINCIPAL_MM * PX_PER_MM
    return np.array([[c_px, 0, WIDTH_PX / 2], [0, c_px, HEIGHT_PX / 2], [0, 0, 1.0]])


@pytest.fixture(scope="module")
def radial(matrix: np.ndarray) -> np.ndarray:
    """Return OpenCV's terms of the radial distortion that the search expects."""
    k1 = camera_prior(WIDTH_PX, HEIGHT_PX, trimmed=False).k1_mean
    ratio = (matrix[0, 0] / (np.hypot(WIDTH_PX, HEIGHT_PX) / 2.0)) ** 2
    second, third = 3.0 * (k1 * ratio) ** 2, -12.0 * (k1 * ratio) ** 3
    return np.array([-k1 * ratio, second, 0.0, 0.0, third])


@pytest.fixture(scope="module")
def pixels(lowered_m: np.ndarray, matrix: np.ndarray, radial: np.ndarray) -> np.ndarray:
    """Return where OpenCV projects the points to, looking 40 deg, a little up."""
    turn, tilt, roll = np.radians([40.0, 1.2, -0.5])
    level = np.array([np.cos(turn), -np.sin(turn), 0.0])
    forward = np.array(
        [np.sin(turn) * np.cos(tilt), np.cos(turn) * np.cos(tilt), np.sin(tilt)]
    )
    down = np.cross(forward, level)
    right = level * np.cos(roll) + down * np.sin(roll)
    rotation = np.stack([right, np.cross(forward, right), forward])
    vector, _ = cv2.Rodrigues(rotation)
    found, _ = cv2.projectPoints(
        lowered_m - STATION_M, vector, np.zeros(3), matrix, radial
    )
    x_px, y_px = found[:, 0].T
    assert np.all((x_px > 0) & (x_px < WIDTH_PX) & (y_px > 0) & (y_px < HEIGHT_PX))
    return found[:, 0]


@pytest.fixture(scope="module")
def by_opencv(lowered_m, matrix, radial, pixels) -> np.ndarray:
    middle = lowered_m.mean(axis=0)
    _, turn, shift = cv2.solvePnP(
        lowered_m - middle, pixels, matrix, radial, flags=cv2.SOLVEPNP_SQPNP
    )
    turn, shift = cv2.solvePnPRefineLM(
        lowered_m - middle, pixels, matrix, radial, turn, shift
    )
    return (-cv2.Rodrigues(turn)[0].T @ shift).ravel() + middle


def evidence(points_m: np.ndarray, pixels: np.ndarray) -> Evidence:
    lon, lat = FRAME.to_lonlat(points_m[:, 0], points_m[:, 1])
    return gather(
        Mark(
            *map(float, pixels[n]),
            Feature(
                (float(lon[n]), float(lat[n])),
                id=f"thing {n}",
                sd_m=0.5,
                height_m=float(points_m[n, 2]),
                height_sd_m=0.5,
            ),
            id=f"mark {n}",
            sd_px=0.5,
        )
        for n in range(len(points_m))
    )


@pytest.fixture(scope="module")
def by_marks(points_m, pixels, tmp_path_factory) -> np.ndarray:
    path = tmp_path_factory.mktemp("plate") / "invented.png"
    Image.new("L", (WIDTH_PX, HEIGHT_PX), 120).save(path)
    plate = Plate.open(path, size="120x90mm", negative=False)
    flat = np.full((121, 121), GROUND_M, dtype=np.float32)
    land = Terrain(flat, -3000.0, -3000.0, 50.0, FRAME, "ground", 50.0)
    ring = np.array([[-260, -240], [340, -240], [340, 260], [-260, 260]], dtype=float)
    outline = np.column_stack(FRAME.to_lonlat(ring[:, 0], ring[:, 1]))
    settings = LocateSettings(
        surface="ground",
        reversed=False,
        lens_height_m=LENS_M,
        lens_height_sd_m=0.1,
        principal_distance_mm=PRINCIPAL_MM,
        principal_distance_sd_mm=0.01,
    )
    problem = set_up(
        plate,
        land,
        None,
        Area(shapely.Polygon(outline), "invented"),
        settings,
        evidence(points_m, pixels),
    )
    station, theta = np.array([20.0, 0.0]), None
    # A cell is looked from as from its middle: a few steps bring the middle there.
    for _ in range(6):
        theta = climbed(problem, station, theta)
        station = station + theta[-2:]
    return station


def climbed(
    problem: Problem, station: np.ndarray, start: np.ndarray | None
) -> np.ndarray:
    """Return the camera to which marks lead from the middle of a cell of 100 m."""
    profiles = problem.profiles(station[:1], station[1:])
    stations = Stations(
        station[:1],
        station[1:],
        profiles.ground_m + LENS_M,
        radius_m=(1.0 - REFRACTION) / (2.0 * problem.curvature_per_m),
        refraction=REFRACTION,
        lens_sd_m=0.1,
    )
    aims = problem.seen.aims(stations)
    prior_sd = problem.prior_sd.copy()
    prior_sd[-2:] = 100.0 / np.sqrt(12.0)
    begin = first_cameras(problem, problem.hands[0], profiles, 1.0, problem.seen, aims)
    if start is not None:
        begin[0, 0] = start
    found = score_stations(
        begin,
        problem.hands[0].samples,
        profiles,
        problem.curvature_per_m,
        problem.prior_mean,
        prior_sd,
        problem.lens.limits,
        problem.noise,
        seen=problem.seen,
        aims=aims,
    )
    return found.theta[0, np.argmax(found.score[0])]


def test_opencv_finds_the_station(by_opencv: np.ndarray) -> None:
    np.testing.assert_allclose(by_opencv, STATION_M, atol=OPENCV_M)


def test_marks_alone_find_opencv_s_station(by_marks, by_opencv) -> None:
    np.testing.assert_allclose(by_marks, by_opencv[:2], atol=A_DECIMETRE)
