"""Check that only published datum shifts are taken."""

import math

import numpy as np
import pytest

from wherestood.earth import find_datum_shift
from wherestood.errors import InputError


def test_unstated_datum_is_refused_rather_than_taken_as_wgs84() -> None:
    with pytest.raises(InputError, match="No published transformation leads") as caught:
        find_datum_shift("+proj=utm +zone=32 +ellps=bessel", 8.0, 47.0)
    assert "names its datum" in caught.value.remedy


def test_system_on_wgs84_itself_needs_no_shift() -> None:
    shift = find_datum_shift("EPSG:32632", 9.0, 47.0)
    assert shift.accuracy_m == 0.0
    assert shift.missing_grids == ()


def test_missing_grid_is_named_beside_the_shift_that_serves() -> None:
    # Registered accuracy of OSGB36 to WGS 84 (6), EPSG:5339: 2 m.
    shift = find_datum_shift("EPSG:27700", -3.0, 54.0)
    assert shift.accuracy_m == 2.0
    assert "uk_os_OSTN15_NTv2_OSGBtoETRS.tif" in shift.missing_grids


def test_old_datum_is_moved_by_more_than_a_hundred_metres() -> None:
    """The move that a ballpark transformation loses: Bessel 1841 in Germany."""
    shift = find_datum_shift("EPSG:31467", 9.0, 50.0)
    east, north = shift.transformer.transform(9.0, 50.0)
    lost = np.subtract((east, north), _ballpark_gauss_kruger(9.0, 50.0))
    assert math.hypot(*lost) > 100.0


def test_unstated_accuracy_is_not_a_number() -> None:
    crs = "+proj=utm +zone=32 +ellps=bessel +towgs84=598.1,73.7,418.2"
    assert math.isnan(find_datum_shift(crs, 8.0, 47.0).accuracy_m)


def _ballpark_gauss_kruger(lon_deg: float, lat_deg: float) -> tuple[float, float]:
    import pyproj

    projection = pyproj.Proj("+proj=tmerc +lon_0=9 +k=1 +x_0=3500000 +ellps=bessel")
    east, north = projection(lon_deg, lat_deg)
    return float(east), float(north)
