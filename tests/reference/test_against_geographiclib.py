"""Check frames and geodesics against GeographicLib.

SOURCE: C. F. F. Karney, GeographicLib (Python package ``geographiclib``),
algorithms of "Algorithms for geodesics", J. Geodesy 87, 2013. Used as a program:
values are computed by it when the test runs.
"""

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from wherestood.earth import Frame, distance_and_bearing, place_at

WGS84 = Geodesic.WGS84
REACH_M = 50_000.0
ONE_MICROMETRE = 1e-6
ONE_MICRODEGREE = 1e-6
# Point scale grows as x^2 / 2 R^2: over 50 km from the centre the length gains
# x^3 / 6 R^2 = 0.5 m, one part in a hundred thousand.
LENGTH_FROM_CENTRE_M = 0.6
# A straight grid line bends against the geodesic by dN (2 E1 + E2) / 6 R^2:
# 0.0006 deg from the centre at 50 km, 0.0036 deg between points at +-50 km.
BEND_FROM_CENTRE_DEG = 0.0007
BEND_BETWEEN_DEG = 0.004
# A secant grid such as UTM counts metres true at the frame's centre; its scale
# turns by x dx / R^2, here up to 230 km from the central meridian: 3e-4.
SCALE_ON_UTM = 3.5e-4

CENTRES = [(8.3, 46.6), (-70.4, -32.8), (174.9, -41.2), (-52.0, 70.5), (0.0, 0.0)]


def _from_centre(
    frame: Frame, bearings_deg: np.ndarray
) -> tuple[np.ndarray, np.ndarray, list[dict[str, float]]]:
    """Return grid lengths, grid bearings and geodesics to points at the reach."""
    centre = (frame.centre_lat_deg, frame.centre_lon_deg)
    ends = [WGS84.Direct(*centre, float(b), REACH_M) for b in bearings_deg]
    east_0, north_0 = frame.from_lonlat(np.array(centre[1]), np.array(centre[0]))
    east, north = frame.from_lonlat(
        np.array([e["lon2"] for e in ends]), np.array([e["lat2"] for e in ends])
    )
    lengths = np.hypot(east - east_0, north - north_0)
    bearings = np.degrees(np.arctan2(east - east_0, north - north_0))
    return lengths, bearings, ends


def _turn_deg(first_deg: np.ndarray, second_deg: np.ndarray) -> np.ndarray:
    return (first_deg - second_deg + 180.0) % 360.0 - 180.0


@pytest.mark.parametrize("centre", CENTRES)
def test_local_frame_measures_from_its_centre_like_a_geodesic(
    centre: tuple[float, float],
) -> None:
    bearings_deg = np.arange(0.0, 360.0, 15.0)
    frame = Frame.local(*centre)
    lengths, grid_bearings, _ = _from_centre(frame, bearings_deg)
    np.testing.assert_allclose(lengths, REACH_M, atol=LENGTH_FROM_CENTRE_M)
    true_bearings = grid_bearings + frame.convergence_deg(*centre)
    turn = _turn_deg(true_bearings, bearings_deg)
    assert np.abs(turn).max() < BEND_FROM_CENTRE_DEG


@pytest.mark.parametrize(
    ("crs", "centre"),
    [
        ("EPSG:32632", (8.3, 46.6)),
        ("EPSG:32632", (6.1, 46.6)),
        ("EPSG:32719", (-70.4, -32.8)),
        ("EPSG:2193", (174.9, -41.2)),
        ("EPSG:2154", (6.5, 45.2)),
    ],
)
def test_frame_on_a_national_grid_measures_like_a_geodesic(
    crs: str, centre: tuple[float, float]
) -> None:
    bearings_deg = np.arange(0.0, 360.0, 15.0)
    frame = Frame.on_crs(crs, *centre)
    lengths, grid_bearings, _ = _from_centre(frame, bearings_deg)
    np.testing.assert_allclose(lengths, REACH_M, rtol=SCALE_ON_UTM)
    turn = _turn_deg(grid_bearings + frame.convergence_deg(*centre), bearings_deg)
    assert np.abs(turn).max() < _bend_deg(frame, centre)


def _bend_deg(frame: Frame, centre: tuple[float, float]) -> float:
    """Return dN (2 E1 + E2) / 6 R^2 of the farthest line, with a tenth to spare.

    On a conformal grid the bend is the scale's gradient across half the line, to
    first order, for a conic grid as for a cylindrical one.
    """
    east, north = frame.from_lonlat(np.array(centre[0]), np.array(centre[1]))
    steps = [(REACH_M, 0.0), (0.0, REACH_M), (-REACH_M, 0.0), (0.0, -REACH_M)]
    scales = [
        frame.point_scale(*(float(v) for v in frame.to_lonlat(east + e, north + n)))
        for e, n in steps
    ]
    largest = max(abs(scale / frame.scale - 1.0) for scale in scales)
    return 1.1 * float(np.degrees(largest / 2.0))


@pytest.mark.parametrize("centre", CENTRES)
def test_true_bearings_between_far_points_need_the_convergence_at_the_first(
    centre: tuple[float, float],
) -> None:
    rng = np.random.default_rng(3)
    frame = Frame.local(*centre)
    for _ in range(40):
        east, north = rng.uniform(-REACH_M, REACH_M, (2, 2))
        lon, lat = frame.to_lonlat(east, north)
        geodesic = WGS84.Inverse(lat[0], lon[0], lat[1], lon[1])
        grid_deg = np.degrees(np.arctan2(east[1] - east[0], north[1] - north[0]))
        true_deg = grid_deg + frame.convergence_deg(float(lon[0]), float(lat[0]))
        turn = (true_deg - geodesic["azi1"] + 180.0) % 360.0 - 180.0
        assert abs(turn) < BEND_BETWEEN_DEG


@pytest.mark.parametrize(
    ("crs", "place"),
    [
        ("EPSG:32632", (6.1, 46.6)),
        ("EPSG:32719", (-70.4, -32.8)),
        ("EPSG:2056", (9.5, 46.8)),
        ("EPSG:2193", (167.9, -45.2)),
        ("EPSG:3413", (-50.0, 70.0)),
    ],
)
def test_convergence_is_the_true_bearing_of_grid_north(
    crs: str, place: tuple[float, float]
) -> None:
    # A grid line of 10 m bends by less than a microdegree.
    frame = Frame.on_crs(crs, *place)
    east, north = frame.from_lonlat(np.array(place[0]), np.array(place[1]))
    ends = [frame.to_lonlat(east, north + s) for s in (-5.0, 5.0)]
    (lon_1, lat_1), (lon_2, lat_2) = ((float(a), float(b)) for a, b in ends)
    line = WGS84.Inverse(lat_1, lon_1, lat_2, lon_2)
    middle_deg = line["azi1"] + (line["azi2"] - line["azi1"]) / 2.0
    assert middle_deg == pytest.approx(
        frame.convergence_deg(*place), abs=ONE_MICRODEGREE
    )


def test_distances_and_bearings_agree_everywhere() -> None:
    rng = np.random.default_rng(11)
    lon = rng.uniform(-180.0, 180.0, (2, 200))
    lat = rng.uniform(-89.0, 89.0, (2, 200))
    distance_m, bearing_deg = distance_and_bearing(lon[0], lat[0], lon[1], lat[1])
    lines = [
        WGS84.Inverse(*p) for p in zip(lat[0], lon[0], lat[1], lon[1], strict=True)
    ]
    np.testing.assert_allclose(
        distance_m, [line["s12"] for line in lines], atol=ONE_MICROMETRE
    )
    turn = _turn_deg(bearing_deg, np.array([line["azi1"] for line in lines]))
    assert np.abs(turn).max() < ONE_MICRODEGREE


def test_places_agree_within_the_reach_of_a_horizon() -> None:
    rng = np.random.default_rng(12)
    for _ in range(100):
        lon, lat = rng.uniform(-180.0, 180.0), rng.uniform(-89.0, 89.0)
        bearing, distance = rng.uniform(0.0, 360.0), rng.uniform(0.0, 2e5)
        got = place_at(lon, lat, bearing, distance)
        expected = WGS84.Direct(lat, lon, bearing, distance)
        apart = WGS84.Inverse(
            float(got[1]), float(got[0]), expected["lat2"], expected["lon2"]
        )
        assert apart["s12"] < ONE_MICROMETRE
