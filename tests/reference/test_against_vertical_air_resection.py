"""Check space resection against a textbook's vertical photograph.

SOURCE
P. R. Wolf and B. A. Dewitt, *Elements of Photogrammetry*, example of space
resection (attribution from memory; the data seen in secondary sources, identical
in four public repositories): focal length, four marks, four points, start values.
The answer was worked out for this test by an independent least-squares solution
in sequential omega, phi, kappa; the book's printed answer was not seen.

Transformed: the book's vertical camera looks along minus its third axis and turns
by omega, phi, kappa; here it is a camera of tilt near -90 degrees. One pixel
stands for 0.01 mm of the plate, the earth is flat.
"""

import numpy as np
import pytest

from wherestood.camera import Camera, axes
from wherestood.camera.resection import Resection, resect

PX_PER_MM = 100.0
FRAME_PX = 23_000
FOCAL_LENGTH_MM = 152.916
FLAT = np.inf

MARKS_MM = np.array(
    [[86.421, -83.977], [-100.916, 92.582], [-98.322, -89.161], [78.812, 98.123]]
)
POINTS_M = np.array(
    [
        [1268.102, 1455.027, 22.606],
        [732.181, 545.344, 22.299],
        [1454.553, 731.666, 22.649],
        [545.245, 1268.232, 22.336],
    ]
)
START_STATION_M = (1009.923, 1038.056, 649.6)
START_KAPPA_DEG = 102.83

OMEGA_PHI_KAPPA_DEG = (-0.41088, 1.21015, 102.80032)
STATION_M = (1027.857, 1044.114, 648.197)
UNIT_WEIGHT_MM = 0.00333
STATION_SD_M = (0.027, 0.027, 0.008)

# The last printed digits.
A_HUNDRED_THOUSANDTH_DEG = 1e-5
ONE_MILLIMETRE = 1e-3
HALF_A_MILLIMETRE = 5e-4
HUNDREDTH_OF_A_MICROMETRE_MM = 1e-5


def solve(start_tilt_deg: float = -89.0) -> Resection:
    # Looking straight down, right is (cos, sin) of kappa and of minus the bearing.
    start = Camera(
        bearing_rad=np.radians(-START_KAPPA_DEG),
        tilt_rad=np.radians(start_tilt_deg),
        roll_rad=0.0,
        principal_distance_px=FOCAL_LENGTH_MM * PX_PER_MM,
        rise_px=0.0,
        cross_px=0.0,
        k1=0.0,
        width_px=FRAME_PX,
        height_px=FRAME_PX,
    )
    return resect(
        start,
        START_STATION_M,
        POINTS_M,
        FRAME_PX / 2.0 + PX_PER_MM * MARKS_MM[:, 0],
        FRAME_PX / 2.0 - PX_PER_MM * MARKS_MM[:, 1],
        radius_m=FLAT,
    )


def omega_phi_kappa_deg(camera: Camera) -> np.ndarray:
    right, up, forward = axes(camera)
    # Rows of the book's matrix, world to image: right, up, backward.
    backward = -forward
    omega = np.arctan2(-backward[1], backward[2])
    phi = np.arcsin(backward[0])
    kappa = np.arctan2(-up[0], right[0])
    return np.degrees([omega, phi, kappa])


@pytest.mark.parametrize("start_tilt_deg", [-90.0, -89.0, -80.0])
def test_station_is_that_of_the_textbook_example(start_tilt_deg: float) -> None:
    found = solve(start_tilt_deg)
    assert found.converged
    np.testing.assert_allclose(found.station_m, STATION_M, atol=ONE_MILLIMETRE)


def test_orientation_is_that_of_the_textbook_example() -> None:
    np.testing.assert_allclose(
        omega_phi_kappa_deg(solve().camera),
        OMEGA_PHI_KAPPA_DEG,
        atol=A_HUNDRED_THOUSANDTH_DEG,
    )


def test_doubt_is_that_of_the_textbook_example() -> None:
    found = solve()
    misfit_mm = found.unit_weight_sd / PX_PER_MM
    assert misfit_mm == pytest.approx(UNIT_WEIGHT_MM, abs=HUNDREDTH_OF_A_MICROMETRE_MM)
    sd_m = found.unit_weight_sd * np.sqrt(np.diag(found.covariance)[:3])
    np.testing.assert_allclose(sd_m, STATION_SD_M, atol=HALF_A_MILLIMETRE)
