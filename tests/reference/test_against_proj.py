"""Check frames against PROJ's own grids and a published example.

SOURCE: PROJ, through pyproj's ready-made transformations of the EPSG register,
used as a program; and IOGP Publication 373-7-2 (EPSG Guidance Note 7-2), worked
example of Transverse Mercator (OSGB 1936 / British National Grid): latitude
50 deg 30' 00.00" N, longitude 0 deg 30' 00.00" E on that datum gives easting
577274.99 m, northing 69740.50 m (recalled; confirmed by PROJ in the same test).
"""

import numpy as np
import pyproj
import pytest

from wherestood.earth import Frame

ONE_CENTIMETRE = 0.01
ONE_MICROMETRE = 1e-6
ONE_MICRODEGREE = 1e-6
ROUNDING = 1e-9


@pytest.mark.parametrize(
    ("crs", "lon_deg", "lat_deg"),
    [
        ("EPSG:32632", 8.3, 46.6),
        ("EPSG:32719", -70.4, -32.8),
        ("EPSG:2056", 8.2, 47.1),
        ("EPSG:2193", 174.9, -41.2),
        ("EPSG:3031", 166.7, -77.8),
    ],
)
def test_frame_times_its_scale_is_the_registered_grid(
    crs: str, lon_deg: float, lat_deg: float
) -> None:
    frame = Frame.on_crs(crs, lon_deg, lat_deg)
    expected = pyproj.Transformer.from_crs(4326, crs, always_xy=True).transform(
        lon_deg, lat_deg
    )
    got = frame.from_lonlat(np.array(lon_deg), np.array(lat_deg))
    np.testing.assert_allclose(
        np.array(got) * frame.scale, expected, atol=10 * ONE_MICROMETRE
    )


def test_published_british_example_comes_out_on_its_own_datum() -> None:
    frame = Frame.on_crs("EPSG:27700", 0.5, 50.5)
    to_grid = pyproj.Transformer.from_crs(4277, 27700, always_xy=True)
    on_grid = to_grid.transform(0.5, 50.5)
    assert on_grid == pytest.approx((577274.99, 69740.50), abs=ONE_CENTIMETRE)
    # The shift to WGS 84 and back closes to a millimetre, no better.
    there = frame.to_lonlat(*(np.array(v / frame.scale) for v in on_grid))
    back = np.array(frame.from_lonlat(*there)) * frame.scale
    np.testing.assert_allclose(back, on_grid, atol=ONE_CENTIMETRE)


@pytest.mark.parametrize(
    ("crs", "lon_deg", "lat_deg"),
    [
        ("EPSG:32632", 6.3, 46.6),
        ("EPSG:32719", -70.4, -32.8),
        ("EPSG:2193", 167.9, -45.2),
        ("EPSG:2154", 6.5, 45.2),
        ("EPSG:3031", 166.7, -77.8),
    ],
)
def test_convergence_is_proj_s_own_factor_where_the_datum_is_modern(
    crs: str, lon_deg: float, lat_deg: float
) -> None:
    factors = pyproj.Proj(crs).get_factors(lon_deg, lat_deg)
    frame = Frame.on_crs(crs, lon_deg, lat_deg)
    assert frame.convergence_deg(lon_deg, lat_deg) == pytest.approx(
        factors.meridian_convergence, abs=ONE_MICRODEGREE
    )
    # Its ellipsoid may be GRS 1980, whose axis differs by 1e-11.
    assert frame.scale == pytest.approx(factors.meridional_scale, abs=ROUNDING)


def test_local_frame_is_utm_without_its_scale_on_the_central_meridian() -> None:
    frame = Frame.local(9.0, 47.0)
    utm = pyproj.Transformer.from_crs(4326, 32632, always_xy=True)
    lon, lat = np.array([9.0, 9.3, 8.8]), np.array([47.0, 47.2, 46.9])
    x, y = utm.transform(lon, lat)
    _, y_0 = utm.transform(9.0, 47.0)
    east, north = frame.from_lonlat(lon, lat)
    np.testing.assert_allclose(east, (x - 500_000.0) / 0.9996, atol=10 * ONE_MICROMETRE)
    np.testing.assert_allclose(north, (y - y_0) / 0.9996, atol=10 * ONE_MICROMETRE)
