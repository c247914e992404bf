"""Where a compass pointed in a past year is told, or refused."""

from __future__ import annotations

import pytest

from wherestood.earth.magnetic_north import declination
from wherestood.errors import InputError


@pytest.mark.parametrize(
    ("lon", "lat", "year", "published_deg"),
    [
        # NOAA, WMM2025 test values, at sea level; read in three repositories that
        # agree. Another model of the same field: they part by tenths near a pole.
        (0.0, 80.0, 2025.0, 1.28),
        (120.0, 0.0, 2025.0, -0.16),
        (240.0, -80.0, 2025.0, 68.78),
        (0.0, 80.0, 2027.5, 2.59),
        (120.0, 0.0, 2027.5, -0.24),
        (240.0, -80.0, 2027.5, 68.49),
    ],
)
def test_declination_is_that_of_the_world_magnetic_model(
    lon: float, lat: float, year: float, published_deg: float
) -> None:
    told = declination(lon, lat, year)
    assert told.east_deg == pytest.approx(published_deg, abs=0.05)
    assert 0.26 < told.sd_deg < 1.0


def test_needle_moved_over_a_century() -> None:
    """In London it pointed some 16 degrees west in 1900, and about north in 2020.

    SOURCE: from memory.
    """
    assert declination(-0.1, 51.5, 1900.0).east_deg == pytest.approx(-16.3, abs=0.7)
    assert declination(-0.1, 51.5, 2020.0).east_deg == pytest.approx(0.0, abs=0.7)


@pytest.mark.parametrize("year", [1871.0, 1899.9, 2030.1])
def test_year_beyond_the_model_is_refused_with_a_remedy(year: float) -> None:
    with pytest.raises(InputError, match="1900 to 2030") as refused:
        declination(8.0, 46.0, year)
    assert "stands on the plan" in refused.value.remedy


def test_last_year_is_known_to_its_end_and_poles_are_refused() -> None:
    assert declination(8.0, 46.0, 2030.0).source == "IGRF-14 of 2030"
    with pytest.raises(InputError, match="magnetic pole"):
        declination(140.0, 86.0, 2025.0)
