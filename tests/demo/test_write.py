"""Check the demo's files against the truth that the demo alone knows."""

import json
from pathlib import Path

import numpy as np
import pytest
import pyvips
import rasterio
from scipy import ndimage
from shapely.geometry import Point, shape

from wherestood.demo.truth import demo_truth
from wherestood.demo.write import DemoFiles, write_demo

# Lens blur, a wavy film edge, specks: the edge of land is soft over a few pixels.
THREE_PIXELS = 3.0
# Error of the invented model (sd 2.0 m smooth, 0.4 m white) and lost detail.
MODEL_WITHIN_M = 12.0


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> DemoFiles:
    return write_demo(tmp_path_factory.mktemp("demo"))


@pytest.fixture(scope="module")
def tone(files: DemoFiles) -> np.ndarray:
    return pyvips.Image.new_from_file(str(files.plate)).numpy()


def test_scan_is_grey_and_states_its_resolution(files: DemoFiles) -> None:
    image = pyvips.Image.new_from_file(str(files.plate))
    assert (image.bands, image.format) == (1, "uchar")
    assert image.xres * 25.4 == pytest.approx(300.0, abs=0.01)
    # Whole plate, 8 1/2 by 6 1/2 in, at 300 pixels to the inch.
    assert (image.width, image.height) == (2550, 1950)


def test_picture_darkens_where_the_true_skyline_says_land_begins(
    files: DemoFiles, tone: np.ndarray
) -> None:
    """The steepest step near the stated row is the edge of land and sky."""
    truth_px = files.exposure.skyline.where
    smooth = ndimage.gaussian_filter(tone.astype(float), (0.7, 2.0))
    step = -np.diff(smooth, axis=0)
    columns = [
        column
        for column in range(200, tone.shape[1] - 200, 7)
        if not files.exposure.covered[column - 12 : column + 13].any()
    ]
    errors_px = []
    for column in columns:
        near = int(truth_px[column])
        window = step[near - 15 : near + 15, column]
        # Step i lies between rows i and i + 1, whose border is at i + 1.
        errors_px.append(near - 15 + np.argmax(window) + 1.0 - truth_px[column])
    assert len(columns) > 200
    assert abs(np.median(errors_px)) < 1.0
    assert np.mean(np.abs(errors_px) < THREE_PIXELS) > 0.95


def test_sky_is_blank_above_and_land_darker_below(
    files: DemoFiles, tone: np.ndarray
) -> None:
    truth_px = files.exposure.skyline.where
    columns = np.arange(200, tone.shape[1] - 600, 11)
    above = np.array([tone[int(truth_px[c]) - 40, c] for c in columns])
    below = np.array([tone[int(truth_px[c]) + 40, c] for c in columns])
    assert np.median(above) - np.median(below) > 20.0


def test_terrain_is_the_true_ground_give_or_take_the_map_maker(
    files: DemoFiles,
) -> None:
    truth = files.truth
    with rasterio.open(files.terrain) as terrain:
        assert terrain.crs.to_epsg() == 32710
        assert "invented" in terrain.tags()["TIFFTAG_IMAGEDESCRIPTION"]
        (height_m,) = next(terrain.sample([(truth.east_m, truth.north_m)]))
        reach_m = min(
            truth.east_m - terrain.bounds.left, terrain.bounds.right - truth.east_m
        )
    # A 30 m cell on the slope by the station spans some metres besides.
    assert height_m == pytest.approx(truth.ground_m, abs=MODEL_WITHIN_M)
    assert reach_m > 5000.0


def test_station_lies_in_the_area_off_its_middle(files: DemoFiles) -> None:
    collection = json.loads(files.area.read_text())
    area = shape(collection["features"][0]["geometry"])
    station = Point(files.truth.lon_deg, files.truth.lat_deg)
    assert area.contains(station)
    assert station.distance(area.centroid) > 0.005  # some 500 m
    assert "invented" in collection["features"][0]["properties"]["name"]


def test_no_file_gives_the_station_away(files: DemoFiles) -> None:
    told = files.readme.read_text() + files.area.read_text()
    assert f"{files.truth.east_m:.0f}" not in told
    assert f"{files.truth.lat_deg:.4f}" not in told
    assert str(files.readme.read_text()).count("invented") >= 2


def test_truth_is_the_same_every_time(files: DemoFiles) -> None:
    assert demo_truth() == files.truth


def test_most_of_the_skyline_shows(files: DemoFiles) -> None:
    assert np.isfinite(files.exposure.skyline.where).all()
    assert 0.01 < files.exposure.covered.mean() < 0.2


def test_folder_is_made(files: DemoFiles) -> None:
    assert isinstance(files.plate, Path)
    assert all(
        path.exists() for path in (files.plate, files.terrain, files.area, files.readme)
    )
