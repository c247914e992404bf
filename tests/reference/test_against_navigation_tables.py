"""Check dip, distance, curvature with refraction against published tables.

SOURCES
N. Bowditch, *The American Practical Navigator*, explanation of table 12:
D = sqrt(2 r0 h / (6076.1 b0)), r0 = 3440.1 nautical miles, b0 = 0.8279, h in feet,
that is 1.169 sqrt(h) nautical miles; table points 16 ft 4.7, 125 ft 13.1 as quoted
by a seamanship handbook (seen in secondary sources).
The Nautical Almanac, dip of the sea horizon 1.76' sqrt(h in metres) (from memory).
Distance of the horizon without refraction for R = 6371 km (seen in a secondary
table). Levelling textbooks: curvature 0.0785 K^2 m, together with refraction
0.0673 K^2 m, K in kilometres (seen in several secondary sources).
The remaining columns were worked out for this test from the formula shown.
"""

import numpy as np
import pytest

from wherestood.earth import drop_m, sea_horizon_dip_rad, sea_horizon_distance_m

FOOT_M = 0.3048
NAUTICAL_MILE_M = 1852.0
BOWDITCH_RADIUS_M = 3440.1 * NAUTICAL_MILE_M
BOWDITCH_REFRACTION = 1.0 - 0.8279
# The dip tables' own constant, b0 = 0.8321.
DIP_REFRACTION = 1.0 - 0.8321
TABLE_RADIUS_M = 6_371_000.0

LAST_DIGIT = 0.5
# The formula writes a nautical mile as 6076.1 ft, 2e-6 off the exact one.
FEET_IN_A_MILE = 5e-6
# 1.76' is printed to two places.
ALMANAC_ROUNDING = 0.005 / 1.76
# The textbooks' 0.0785 K^2 and the last printed digit.
ROUNDED_K_SQUARED = 0.0006


@pytest.mark.parametrize(
    ("height_ft", "distance_nmi", "digit"),
    [
        (16.0, 4.7, 0.1),
        (125.0, 13.1, 0.1),
        (9.0, 3.51, 0.01),
        (25.0, 5.85, 0.01),
        (100.0, 11.69, 0.01),
        (400.0, 23.39, 0.01),
        (1000.0, 36.98, 0.01),
    ],
)
def test_sea_horizon_distance_is_bowditch_table_12(
    height_ft: float, distance_nmi: float, digit: float
) -> None:
    got_m = sea_horizon_distance_m(
        height_ft * FOOT_M, BOWDITCH_REFRACTION, BOWDITCH_RADIUS_M
    )
    assert float(got_m) / NAUTICAL_MILE_M == pytest.approx(
        distance_nmi, abs=LAST_DIGIT * digit
    )


def test_sea_horizon_distance_follows_bowditch_formula_with_its_constants() -> None:
    height_ft = 100.0
    expected_nmi = np.sqrt(2.0 * 3440.1 * height_ft / (6076.1 * 0.8279))
    got_m = sea_horizon_distance_m(
        height_ft * FOOT_M, BOWDITCH_REFRACTION, BOWDITCH_RADIUS_M
    )
    assert float(got_m) / NAUTICAL_MILE_M == pytest.approx(
        expected_nmi, rel=FEET_IN_A_MILE
    )


@pytest.mark.parametrize("height_m", [1.0, 2.0, 10.0, 100.0])
def test_dip_is_the_almanac_s(height_m: float) -> None:
    got_rad = sea_horizon_dip_rad(height_m, DIP_REFRACTION, TABLE_RADIUS_M)
    assert np.degrees(got_rad) * 60.0 == pytest.approx(
        1.76 * np.sqrt(height_m), rel=ALMANAC_ROUNDING
    )


@pytest.mark.parametrize(
    ("height_m", "unbent_km", "bent_km"),
    [
        (2.0, 5.05, 5.41),
        (10.0, 11.3, 12.10),
        (100.0, 35.7, 38.27),
        (500.0, 79.8, 85.57),
        (1000.0, 112.9, 121.02),
    ],
)
def test_sea_horizon_distance_with_and_without_refraction(
    height_m: float, unbent_km: float, bent_km: float
) -> None:
    unbent = sea_horizon_distance_m(height_m, 0.0, TABLE_RADIUS_M) / 1000.0
    bent = sea_horizon_distance_m(height_m, 0.13, TABLE_RADIUS_M) / 1000.0
    assert float(unbent) == pytest.approx(unbent_km, abs=LAST_DIGIT * 0.1)
    assert float(bent) == pytest.approx(bent_km, abs=LAST_DIGIT * 0.01)


@pytest.mark.parametrize(
    ("refraction", "coefficient", "drops_m"),
    [
        (0.0, 0.07848, (1.96, 7.85, 31.4, 196.2, 784.8)),
        (0.13, 0.06828, (1.71, 6.83, 27.3, 170.7, 682.8)),
        (1.0 / 7.0, 0.06727, (1.68, 6.73, 26.9, 168.2, 672.7)),
        (0.14, 0.06749, (1.69, 6.75, 27.0, 168.7, 674.9)),
    ],
)
def test_drop_is_the_curvature_and_refraction_column(
    refraction: float, coefficient: float, drops_m: tuple[float, ...]
) -> None:
    assert float(drop_m(1000.0, refraction, TABLE_RADIUS_M)) == pytest.approx(
        coefficient, abs=LAST_DIGIT * 1e-5
    )
    distances_m = np.array([5.0, 10.0, 20.0, 50.0, 100.0]) * 1000.0
    got = drop_m(distances_m, refraction, TABLE_RADIUS_M)
    for value, expected, digit in zip(
        got, drops_m, (0.01, 0.01, 0.1, 0.1, 0.1), strict=True
    ):
        assert value == pytest.approx(expected, abs=LAST_DIGIT * digit * 1.01)


def test_levelling_constants_of_the_textbooks() -> None:
    curvature_m = float(drop_m(1000.0, 0.0, TABLE_RADIUS_M))
    together_m = float(drop_m(1000.0, 1.0 / 7.0, TABLE_RADIUS_M))
    assert curvature_m == pytest.approx(0.0785, abs=LAST_DIGIT * 1e-4)
    assert together_m == pytest.approx(0.0673, abs=LAST_DIGIT * 1e-4)
    assert curvature_m - together_m == pytest.approx(0.0112, abs=LAST_DIGIT * 1e-4)


def test_levelling_worked_examples() -> None:
    curvature_m = drop_m(np.array([900.0, 2500.0]), 0.0, TABLE_RADIUS_M)
    np.testing.assert_allclose(curvature_m, [0.063, 0.49], atol=ROUNDED_K_SQUARED)
    flat = np.array([700.0, 1500.0])
    refraction_m = drop_m(flat, 0.0, TABLE_RADIUS_M) - drop_m(
        flat, 1.0 / 7.0, TABLE_RADIUS_M
    )
    np.testing.assert_allclose(refraction_m, [0.0055, 0.0252], atol=5e-5)
