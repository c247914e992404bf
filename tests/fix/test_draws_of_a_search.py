"""Check the cameras that a whole search leaves possible."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from wherestood.fix.locate import locate
from wherestood.fix.settings import LocateSettings
from wherestood.ground.cameras import PlateCameras

WIDTH_PX, HEIGHT_PX = 1200, 900
FOUR_STANDARD_ERRORS = 4.0


@pytest.fixture(scope="module")
def fix(plate, land, area_of, marked):
    """Return a search by seven marks."""
    east, north = marked.STATION_M
    area = area_of(
        land, shapely.box(east - 90.0, north - 60.0, east + 60.0, north + 90.0)
    )
    settings = LocateSettings(surface="ground", reversed=False)
    return locate(
        plate, land, None, area, settings=settings, evidence=marked.evidence_of(land)
    )


def test_draws_lie_about_the_station_as_far_as_the_fix_says(fix, marked) -> None:
    draws = fix.draws
    assert len(draws) == 300
    station = fix.station
    for drawn, true_m, sd_m in (
        (draws.east_m, marked.STATION_M[0], station.sd_east_m),
        (draws.north_m, marked.STATION_M[1], station.sd_north_m),
    ):
        assert abs(drawn.mean() - true_m) < FOUR_STANDARD_ERRORS * drawn.std()
        assert 0.5 < drawn.std() / sd_m < 2.0
    sight_sd_deg = fix.camera.sd["sight_bearing_deg"]
    cameras = PlateCameras(draws, WIDTH_PX, HEIGHT_PX)
    bearing, _ = cameras.directions([WIDTH_PX / 2], [HEIGHT_PX / 2])
    turn = np.degrees(bearing[:, 0] - bearing[0, 0])
    assert 0.4 < np.std((turn + 180.0) % 360.0 - 180.0) / sight_sd_deg < 2.5


def test_drawn_cameras_show_the_marks_where_they_were_read(fix, land, marked) -> None:
    cameras = PlateCameras(fix.draws, WIDTH_PX, HEIGHT_PX)
    d = fix.draws
    evidence = marked.evidence_of(land)
    things = {feature.id: feature for feature in evidence.features}
    for number, mark in enumerate(evidence.marks):
        feature = things[f"thing {number}"]
        lon, lat = shapely.get_coordinates(feature.geometry)[0]
        east, north = land.frame.from_lonlat(np.array([lon]), np.array([lat]))
        off_east, off_north = east - d.east_m, north - d.north_m
        away = np.hypot(off_east, off_north)
        drop = (1.0 - land.refraction) * away**2 / (2.0 * 6.371e6)
        x, y = cameras.pixels(
            np.arctan2(off_east, off_north)[:, None],
            ((feature.height_m - d.lens_m - drop) / away)[:, None],
        )
        for shown, read in ((x, mark.x_px), (y, mark.y_px)):
            assert abs(np.median(shown) - read) < FOUR_STANDARD_ERRORS * max(
                shown.std(), 2.0
            )
