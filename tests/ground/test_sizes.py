"""Test sizes on ground so plain that they can be worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wherestood.earth.frame import Frame
from wherestood.errors import InputError
from wherestood.ground.cameras import PlateCameras
from wherestood.ground.mapping import Doubts, KnownPlace, Mapping
from wherestood.ground.sizes import height_above, length_between, pixel_at
from wherestood.ground.worth import mapping_worth
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import SolidGround
from wherestood.terrain.model import Terrain

WIDTH_PX, HEIGHT_PX, C_PX = 3000, 2200, 3000.0
LENS_M, AWAY_M = 120.0, 800.0
ONE_CENTIMETRE = 0.01
#: Of a standard error told by 3000 draws, no unit.
FIVE_PERCENT = 0.05
SURE = Doubts(0.0, 0.0)


@pytest.fixture(scope="module")
def plain_mapping(make_draws):
    """Return a camera 120 m above a level plain, looking north, nothing in doubt."""
    count = 3000
    level = Terrain(
        np.zeros((401, 401), np.float32), -5000.0, -5000.0, 25.0,
        Frame.local(-27.5, 41.2), "ground", 25.0, refraction=1.0,
    )  # fmt: skip
    none = np.zeros(count)
    draws = make_draws(np.zeros(13), np.zeros((count, 13)))
    draws = replace(draws, lens_m=none + LENS_M, principal_distance_px=none + C_PX)
    return Mapping(
        SolidGround.of(HorizonModel.of(level)),
        PlateCameras(draws, WIDTH_PX, HEIGHT_PX),
        (WIDTH_PX, HEIGHT_PX),
        (KnownPlace(0.0, 0.0, 1.0),),
        "located",
        SURE,
        lens_height_m=LENS_M,
        lens_height_sd_m=0.0,
    )


def pixel_of(east_m, north_m, up_m):
    """Return where a level camera at the origin looking north shows a point."""
    return (
        WIDTH_PX / 2 + C_PX * east_m / north_m,
        HEIGHT_PX / 2 - C_PX * (up_m - LENS_M) / north_m,
    )


def test_post_is_as_tall_as_it_was_set_up(plain_mapping):
    foot, top = pixel_of(60.0, AWAY_M, 0.0), pixel_of(60.0, AWAY_M, 9.0)
    found = height_above(plain_mapping, foot, top, np.random.default_rng(1))
    assert abs(found.value_m - 9.0) < ONE_CENTIMETRE
    assert found.sd_m < ONE_CENTIMETRE
    assert abs(found.distance_m - np.hypot(60.0, AWAY_M)) < ONE_CENTIMETRE


def test_doubt_of_a_height_is_that_of_two_readings(plain_mapping):
    """Along the plate one pixel is d / c; the foot's error moves the distance too."""
    foot, top = pixel_of(0.0, AWAY_M, 0.0), pixel_of(0.0, AWAY_M, 9.0)
    unsure = replace(plain_mapping, doubts=Doubts(2.0, 0.0))
    found = height_above(unsure, foot, top, np.random.default_rng(2))
    pixel_m = 2.0 * AWAY_M / C_PX
    # h = H (T_top - T_foot) / -T_foot: by T_foot it goes as (H - h) / H.
    by_foot = (LENS_M - 9.0) / LENS_M
    expected = pixel_m * np.hypot(1.0, by_foot)
    assert abs(found.sd_m / expected - 1.0) < FIVE_PERCENT
    assert found.least_m < 9.0 < found.most_m


def test_wall_on_the_ground_is_as_long_as_it_was_laid(plain_mapping):
    at = [pixel_of(-50.0, 700.0, 0.0), pixel_of(100.0, 900.0, 0.0)]
    found = length_between(plain_mapping, at, np.random.default_rng(3))
    assert abs(found.value_m - 250.0) < ONE_CENTIMETRE
    there_and_back = [*at, at[0]]
    twice = length_between(plain_mapping, there_and_back, np.random.default_rng(3))
    assert abs(twice.value_m - 500.0) < ONE_CENTIMETRE
    with pytest.raises(InputError, match="two points"):
        length_between(plain_mapping, at[:1], np.random.default_rng(3))


def test_pixel_on_the_ground_is_its_width_over_the_sine_of_the_angle(plain_mapping):
    x, y = pixel_of(0.0, AWAY_M, 0.0)
    found = pixel_at(plain_mapping, x, y, np.random.default_rng(4))
    across = AWAY_M / C_PX
    assert found.across_m == pytest.approx(across, rel=0.01)
    assert found.upright_m == pytest.approx(across, rel=0.01)
    assert found.smallest_m == pytest.approx(2.0 * across, rel=0.01)
    # One pixel down is so much nearer on the plain: H / T^2 dT.
    along = LENS_M / (LENS_M / AWAY_M) ** 2 / C_PX
    assert found.along_m == pytest.approx(along, rel=0.01)


def test_what_cannot_be_measured_says_why(plain_mapping):
    rng = np.random.default_rng(5)
    sky = height_above(plain_mapping, (1500.0, 300.0), (1500.0, 200.0), rng)
    assert np.isnan(sky.value_m)
    assert "0 in 100" in sky.why_not
    far = pixel_of(0.0, 4500.0, 0.0)
    flat = height_above(plain_mapping, far, (far[0], far[1] - 5.0), rng)
    assert "too flatly" in flat.why_not


def test_worth_of_a_level_camera_is_the_land_below_two_degrees(plain_mapping):
    """Rays under 2 degrees fill c tan 2 deg = 105 px below the level line."""
    worth = mapping_worth(
        plain_mapping.at_cameras(np.arange(100)), np.random.default_rng(6)
    )
    assert worth.land == pytest.approx(0.5, abs=0.03)
    flat = C_PX * np.tan(np.radians(2.0)) / (HEIGHT_PX / 2)
    one_row = 1.0 / 9.0
    assert worth.placed == pytest.approx(1.0 - flat, abs=one_row)
    assert worth.grade == "good"
