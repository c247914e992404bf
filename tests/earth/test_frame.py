"""Check the local metric grid."""

import numpy as np
import pytest

from wherestood.earth import Frame, distance_and_bearing, find_datum_shift

ONE_MICROMETRE = 1e-6
# Frame coordinates come through a series good to well below this.
ONE_NANODEGREE = 1e-9
ROUNDING = 1e-9


@pytest.mark.parametrize("lat_deg", [-77.0, -33.0, 0.0, 46.5, 84.0])
def test_local_frame_has_its_centre_at_zero(lat_deg: float) -> None:
    frame = Frame.local(8.25, lat_deg)
    east, north = frame.from_lonlat(np.array(8.25), np.array(lat_deg))
    assert float(east) == pytest.approx(0.0, abs=ONE_MICROMETRE)
    assert float(north) == pytest.approx(0.0, abs=ONE_MICROMETRE)
    assert frame.convergence_deg(8.25, lat_deg) == pytest.approx(0.0, abs=ROUNDING)
    assert frame.point_scale(8.25, lat_deg) == pytest.approx(1.0, abs=ROUNDING)


@pytest.mark.parametrize(
    "frame",
    [
        Frame.local(179.99, -17.0),
        Frame.on_crs("EPSG:2056", 8.2, 47.1),
        Frame.on_crs("EPSG:32719", -70.5, -32.5),
        Frame.on_crs("EPSG:3413", -50.0, 70.0),
    ],
    ids=["across the antimeridian", "oblique", "southern", "polar"],
)
def test_places_come_back_from_the_frame(frame: Frame) -> None:
    rng = np.random.default_rng(7)
    east_0, north_0 = frame.from_lonlat(
        np.array(frame.centre_lon_deg), np.array(frame.centre_lat_deg)
    )
    east_m = east_0 + rng.uniform(-5e4, 5e4, 100)
    north_m = north_0 + rng.uniform(-5e4, 5e4, 100)
    back = frame.from_lonlat(*frame.to_lonlat(east_m, north_m))
    np.testing.assert_allclose(back[0], east_m, atol=10 * ONE_MICROMETRE)
    np.testing.assert_allclose(back[1], north_m, atol=10 * ONE_MICROMETRE)


def test_frame_on_utm_counts_ground_metres_at_its_centre() -> None:
    # On the central meridian of a UTM zone the point scale is 0.9996 by definition.
    frame = Frame.on_crs("EPSG:32632", 9.0, 47.0)
    assert frame.scale == pytest.approx(0.9996, abs=ROUNDING)
    east, north = frame.from_lonlat(np.array(9.0), np.array(47.0))
    lon, lat = frame.to_lonlat(east + 100.0, north)
    distance_m, _ = distance_and_bearing(9.0, 47.0, lon, lat)
    assert float(distance_m) == pytest.approx(100.0, abs=10 * ONE_MICROMETRE)


@pytest.mark.parametrize(
    ("lon_deg", "lat_deg", "sign"),
    [(8.5, 46.0, 1), (7.5, 46.0, -1), (8.5, -46.0, -1), (7.5, -46.0, 1)],
)
def test_grid_north_lies_towards_the_pole_side_of_the_central_meridian(
    lon_deg: float, lat_deg: float, sign: int
) -> None:
    frame = Frame.local(8.0, lat_deg)
    assert np.sign(frame.convergence_deg(lon_deg, lat_deg)) == sign


def test_frame_uses_the_published_shift_of_its_datum() -> None:
    frame = Frame.on_crs("EPSG:31467", 9.0, 50.0)
    shift = find_datum_shift("EPSG:31467", 9.0, 50.0)
    east, north = shift.transformer.transform(9.0, 50.0)
    got = frame.from_lonlat(np.array(9.0), np.array(50.0))
    assert float(got[0]) * frame.scale == pytest.approx(east, abs=ONE_MICROMETRE)
    assert float(got[1]) * frame.scale == pytest.approx(north, abs=ONE_MICROMETRE)
