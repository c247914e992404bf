"""Check the camera against a table worked out by hand for a horizontal one.

SOURCE
Worked out for this test, apart from the program, from the collinearity equations:
east, north, up; azimuth 37 deg, elevation -1.5 deg, roll +0.8 deg (turned clockwise
seen from behind), focal length 300 mm, station (1000, 2000, 150), flat earth, no
refraction; plate x right, y up in the upright positive. Textbook examples are of
vertical air photographs, which would not show a slip in these angles.

Transformed: one pixel stands for 0.01 mm of the plate.
"""

import numpy as np
import pytest

from wherestood.camera import Camera, bearing_elevation, project_points
from wherestood.camera.resection import resect

PX_PER_MM = 100.0
WIDTH_PX, HEIGHT_PX = 24_000, 18_000
FLAT = np.inf

STATION_M = (1000.0, 2000.0, 150.0)
POINTS_M = np.array(
    [
        [1180.0, 2260.0, 141.0],
        [2150.0, 3300.0, 420.0],
        [1900.0, 4100.0, 610.0],
        [3900.0, 4700.0, 880.0],
        [2600.0, 3100.0, 205.0],
    ]
)
PLATE_MM = np.array(
    [
        [-12.0590, -0.8572],
        [22.9281, 55.2179],
        [-75.0988, 69.3931],
        [52.5202, 65.0416],
        [100.1972, 18.2302],
    ]
)
AZIMUTH_DEG = np.array([34.6952, 41.4965, 23.1986, 47.0454, 55.4915])
ALTITUDE_DEG = np.array([-1.6302, 8.8421, 11.3835, 10.4389, 1.6226])

# Half the last printed digit, and rounding.
A_TENTH_OF_A_MICROMETRE_MM = 0.51e-4
HALF_A_TEN_THOUSANDTH_DEG = 0.51e-4
# From a plate position rounded as printed; 1e-4 mm is 2e-5 deg at 300 mm.
ROUNDED_PLATE_DEG = 0.7e-4
# 0.5e-4 mm at 300 mm is 0.5 mm at 3 km; the geometry of five marks stretches it.
FIVE_MILLIMETRES = 5e-3

CAMERA = Camera(
    bearing_rad=np.radians(37.0),
    tilt_rad=np.radians(-1.5),
    roll_rad=np.radians(0.8),
    principal_distance_px=300.0 * PX_PER_MM,
    rise_px=0.0,
    cross_px=0.0,
    k1=0.0,
    width_px=WIDTH_PX,
    height_px=HEIGHT_PX,
)
MARKS_PX = np.array([WIDTH_PX, HEIGHT_PX]) / 2.0 + PX_PER_MM * PLATE_MM * [1.0, -1.0]


def test_points_fall_on_the_plate_where_the_table_has_them() -> None:
    x_px, y_px = project_points(CAMERA, STATION_M, POINTS_M, radius_m=FLAT)
    got_mm = np.stack([x_px - WIDTH_PX / 2.0, HEIGHT_PX / 2.0 - y_px], -1) / PX_PER_MM
    np.testing.assert_allclose(got_mm, PLATE_MM, atol=A_TENTH_OF_A_MICROMETRE_MM)


def test_pixels_look_where_the_table_says() -> None:
    bearing_rad, elevation_rad = bearing_elevation(CAMERA, *MARKS_PX.T)
    np.testing.assert_allclose(
        np.degrees(bearing_rad), AZIMUTH_DEG, atol=ROUNDED_PLATE_DEG
    )
    np.testing.assert_allclose(
        np.degrees(elevation_rad), ALTITUDE_DEG, atol=ROUNDED_PLATE_DEG
    )


def test_table_azimuths_and_altitudes_are_those_of_its_points() -> None:
    east, north, up = (POINTS_M - STATION_M).T
    np.testing.assert_allclose(
        np.degrees(np.arctan2(east, north)), AZIMUTH_DEG, atol=HALF_A_TEN_THOUSANDTH_DEG
    )
    np.testing.assert_allclose(
        np.degrees(np.arctan2(up, np.hypot(east, north))),
        ALTITUDE_DEG,
        atol=HALF_A_TEN_THOUSANDTH_DEG,
    )


def test_resection_of_the_table_finds_its_station_and_camera() -> None:
    start = Camera(
        bearing_rad=np.radians(40.0),
        tilt_rad=0.0,
        roll_rad=0.0,
        principal_distance_px=290.0 * PX_PER_MM,
        rise_px=0.0,
        cross_px=0.0,
        k1=0.0,
        width_px=WIDTH_PX,
        height_px=HEIGHT_PX,
    )
    found = resect(
        start,
        (950.0, 1950.0, 140.0),
        POINTS_M,
        *MARKS_PX.T,
        free=("bearing_rad", "tilt_rad", "roll_rad", "principal_distance_px"),
        radius_m=FLAT,
    )
    assert found.converged
    np.testing.assert_allclose(found.station_m, STATION_M, atol=FIVE_MILLIMETRES)
    got_deg = np.degrees(
        [found.camera.bearing_rad, found.camera.tilt_rad, found.camera.roll_rad]
    )
    np.testing.assert_allclose(got_deg, [37.0, -1.5, 0.8], atol=1e-3)
    assert found.camera.principal_distance_px / PX_PER_MM == pytest.approx(
        300.0, abs=1e-2
    )
