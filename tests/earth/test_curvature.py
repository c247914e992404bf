"""Check curvature and refraction against what geometry demands."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wherestood.earth import (
    curvature_radius_m,
    drop_m,
    sea_horizon_dip_rad,
    sea_horizon_distance_m,
)
from wherestood.errors import InputError

# WGS 84: a = 6378137 m, 1/f = 298.257223563, hence b = a (1 - f).
EQUATOR_RADIUS_M = 6_378_137.0
POLE_RADIUS_M = EQUATOR_RADIUS_M * (1.0 - 1.0 / 298.257223563)
ONE_MICROMETRE = 1e-6
ROUNDING = 1e-12


def test_gaussian_radius_is_b_at_the_equator() -> None:
    # M = b^2 / a and N = a there, so that sqrt(M N) = b.
    assert curvature_radius_m(0.0) == pytest.approx(POLE_RADIUS_M, abs=ONE_MICROMETRE)


def test_gaussian_radius_is_a_squared_over_b_at_both_poles() -> None:
    expected_m = EQUATOR_RADIUS_M**2 / POLE_RADIUS_M
    for lat_deg in (-90.0, 90.0):
        assert curvature_radius_m(lat_deg) == pytest.approx(expected_m, rel=ROUNDING)


@given(st.floats(0.01, 5000.0), st.floats(-1.0, 0.9), st.floats(6.3e6, 6.5e6))
def test_ray_to_sea_horizon_falls_twice_the_height_of_eye(
    height_m: float, refraction: float, radius_m: float
) -> None:
    # A tangent to a parabola at distance d meets its axis at twice the sagitta.
    dip = sea_horizon_dip_rad(height_m, refraction, radius_m)
    distance = sea_horizon_distance_m(height_m, refraction, radius_m)
    assert float(dip * distance) == pytest.approx(2.0 * height_m, rel=ROUNDING)
    assert float(drop_m(distance, refraction, radius_m)) == pytest.approx(
        height_m, rel=ROUNDING
    )


def test_drop_keeps_the_shape_and_the_gaps_of_the_distances() -> None:
    distance_m = np.array([[0.0, 1000.0, np.nan]])
    drop = drop_m(distance_m, 0.0, 500_000.0)
    np.testing.assert_allclose(drop, [[0.0, 1.0, np.nan]], rtol=ROUNDING)


def test_eye_under_water_is_refused_with_its_height() -> None:
    with pytest.raises(InputError, match=r"must not be negative, not -2 m"):
        sea_horizon_dip_rad(np.array([1.0, -2.0]))


def test_refraction_that_bends_rays_with_the_earth_is_refused() -> None:
    with pytest.raises(InputError, match=r"must be below 1, not 1\."):
        drop_m(1.0, refraction=1.0)


def test_radius_that_is_not_positive_is_refused() -> None:
    with pytest.raises(InputError, match="must be positive, not 0 m"):
        drop_m(1.0, radius_m=0.0)
