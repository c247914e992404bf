"""Check today's declination against the World Magnetic Model's own test values.

SOURCE: NOAA, WMM2025_TEST_VALUES, as three public repositories quote it (SEEN-2nd):
date, height, latitude and longitude to declination, in hundredths of a degree.
"""

from __future__ import annotations

from datetime import date

import pytest

from wherestood.earth.magnetic_today import declination_today
from wherestood.errors import InputError

#: As printed, and a day's part of the year that a date rounds to.
ONE_HUNDREDTH_DEGREE = 0.0101
VALUES = [
    (date(2025, 1, 1), 0.0, 80.0, 0.0, 1.28),
    (date(2025, 1, 1), 0.0, 0.0, 120.0, -0.16),
    (date(2025, 1, 1), 0.0, -80.0, 240.0, 68.78),
    (date(2025, 1, 1), 100.0, 80.0, 0.0, 0.85),
    (date(2025, 1, 1), 100.0, 0.0, 120.0, -0.15),
    (date(2025, 1, 1), 100.0, -80.0, 240.0, 68.21),
    (date(2027, 7, 2), 0.0, 80.0, 0.0, 2.59),
    (date(2027, 7, 2), 0.0, 0.0, 120.0, -0.24),
    (date(2027, 7, 2), 0.0, -80.0, 240.0, 68.49),
]


@pytest.mark.parametrize(("day", "height_km", "lat", "lon", "expected"), VALUES)
def test_declination_is_the_published_one(day, height_km, lat, lon, expected) -> None:
    found = declination_today(lon, lat, day, 1000.0 * height_km)
    assert abs(found.east_deg - expected) < ONE_HUNDREDTH_DEGREE
    assert 0.0 < found.sd_deg < 3.0


@pytest.mark.parametrize("day", [date(2024, 12, 31), date(2030, 1, 1)])
def test_no_declination_is_given_outside_the_models_years(day) -> None:
    with pytest.raises(InputError, match="holds from 2025-01-01 to 2029-12-31"):
        declination_today(8.5, 46.1, day)


def test_no_declination_is_given_at_the_magnetic_pole() -> None:
    with pytest.raises(InputError, match="tells no direction"):
        declination_today(138.0, 85.9, date(2026, 6, 1))
