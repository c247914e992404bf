"""Test what a view of the terrain draws: haze, ridges, a picture that lies on it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine

from wherestood.camera.model import Camera
from wherestood.earth.frame import Frame
from wherestood.errors import InputError
from wherestood.ground.place import Place
from wherestood.ground.rendering import ViewLook, camera_at, follow_view, render_view
from wherestood.plans.laid import LaidPicture
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import GROUND, SKY, SolidGround
from wherestood.terrain.model import Terrain

CELL_M, SIDE = 25.0, 161
WALL_NORTH_M, LENS_M = 1000.0, 40.0
SCAN_PX, VIEW_PX = (800, 600), 400


@pytest.fixture(scope="module")
def solid() -> SolidGround:
    """A plain at 0 m, a ridge of 60 m across the north, a far one of 200 m behind."""
    at = (np.arange(SIDE) - SIDE // 2) * CELL_M
    north = np.meshgrid(at, at, indexing="ij")[0]
    heights = 60.0 * np.exp(-(((north - WALL_NORTH_M) / 60.0) ** 2))
    heights += 200.0 * np.exp(-(((north - 1800.0) / 100.0) ** 2))
    land = Terrain(
        heights.astype(np.float32), at[0], at[0], CELL_M, Frame.local(7.0, 46.0),
        "ground", CELL_M,
    )  # fmt: skip
    return SolidGround.of(HorizonModel.of(land))


@pytest.fixture(scope="module")
def camera(solid: SolidGround):
    place = Place(solid.model, 0.0, 0.0, 0.0, LENS_M, 0.0)
    return camera_at(place, Camera(0.0, 0.0, 0.0, 900.0, 0.0, 0.0, 0.0, *SCAN_PX))


def grey(solid, camera, **look) -> np.ndarray:
    return render_view(solid, camera, SCAN_PX, VIEW_PX, ViewLook(**look)).astype(int)


def test_plain_lies_where_the_rays_of_a_level_camera_meet_it(solid, camera) -> None:
    """A pixel so far below the horizon sees the plain at lens height by its tangent."""
    seen = follow_view(solid, camera, SCAN_PX, VIEW_PX)
    middle = seen.distance_m[:, VIEW_PX // 2]
    row = 200  # 2 (200 + 0.5) - 300 = 101 px below the axis
    assert middle[row] == pytest.approx(LENS_M / (101.0 / 900.0), abs=0.5)
    assert seen.what[row, 200] == GROUND
    assert seen.what[0, 200] == SKY


def test_ridge_lines_stand_at_the_near_ridge_and_at_the_horizon(solid, camera) -> None:
    plain = grey(solid, camera, haze_m=None, ridge_lines=False)
    lined = grey(solid, camera, haze_m=None)
    rows = np.flatnonzero((lined != plain)[:, VIEW_PX // 2])
    # Crests at 60 - 40 m over 1000 m, and 200 - 40 over 1800: rows of 2 px.
    crests = [300.0 - 900.0 * 160.0 / 1800.0, 300.0 - 900.0 * 20.0 / 1000.0]
    assert rows.tolist() == pytest.approx([y / 2.0 for y in crests], abs=1.5)


def test_haze_pales_far_ground_more_than_near(solid, camera) -> None:
    clear = grey(solid, camera, haze_m=None, ridge_lines=False)
    hazy = grey(solid, camera, haze_m=2000.0, ridge_lines=False)
    paler = (hazy - clear)[:, VIEW_PX // 2]
    assert paler[130] > paler[150] > paler[280] >= 0
    assert (hazy == clear)[:50].all()  # the sky is as it was


@pytest.fixture(scope="module")
def chequered(tmp_path_factory) -> Path:
    """A raster of 10 m cells over the plain's western half: red but for one square."""
    path = tmp_path_factory.mktemp("draped") / "sheet.tif"
    bands = np.zeros((3, 80, 80), np.uint8)
    bands[0] = 255
    bands[:, 20:60, 20:60] = [[[0]], [[0]], [[255]]]  # blue, 200 to 600 m
    frame = Frame.local(7.0, 46.0)
    with rasterio.open(
        path, "w", driver="GTiff", width=80, height=80, count=3, dtype="uint8",
        crs=frame.crs, transform=Affine(10.0, 0.0, -400.0, 0.0, -10.0, 800.0),
    ) as file:  # fmt: skip
        file.write(bands)
    return path


def test_draped_picture_lies_where_its_file_says(solid, camera, chequered) -> None:
    laid = LaidPicture.open(chequered, "GTiff", Frame.local(7.0, 46.0))
    assert laid.cell_m == pytest.approx(10.0, rel=0.01)
    look = ViewLook(None, False, laid)
    view = render_view(solid, camera, SCAN_PX, VIEW_PX, look).astype(int)
    seen = follow_view(solid, camera, SCAN_PX, VIEW_PX)
    east, north = seen.east_m, seen.north_m
    # From edges of the square and of the sheet one pixel of it is left out.
    square = (np.abs(east) < 190.0) & (np.abs(north - 400.0) < 190.0)
    sheet = (np.abs(east) < 390.0) & (np.abs(north - 400.0) < 390.0)
    about = sheet & ~((np.abs(east) < 210.0) & (np.abs(north - 400.0) < 210.0))
    assert square.sum() > 300
    assert (view[square][:, 2] > view[square][:, 0] + 80).all()
    assert (view[about][:, 0] > view[about][:, 2] + 80).all()
    off = np.isfinite(east) & ((np.abs(east) > 410.0) | (north > 810.0))
    assert (np.ptp(view[off], axis=1) == 0).all()


def test_picture_without_a_place_is_refused(tmp_path) -> None:
    path = tmp_path / "nowhere.tif"
    with (
        pytest.warns(rasterio.errors.NotGeoreferencedWarning),
        rasterio.open(
            path, "w", driver="GTiff", width=4, height=4, count=1, dtype="uint8"
        ) as file,
    ):
        file.write(np.zeros((1, 4, 4), np.uint8))
    with pytest.raises(InputError, match="does not say where"):
        LaidPicture.open(path, "GTiff", Frame.local(7.0, 46.0))
