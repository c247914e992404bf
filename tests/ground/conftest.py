"""Offer real ground and invented cameras to the tests of picture and map."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from wherestood.demo.ground import jacksboro
from wherestood.earth.frame import Frame
from wherestood.fix.camera_draws import CameraDraws
from wherestood.ground.cameras import PlateCameras
from wherestood.ground.mapping import Doubts, KnownPlace, Mapping
from wherestood.terrain.ground import height_m
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import SolidGround
from wherestood.terrain.model import Terrain

Array = NDArray[np.float64]
WIDTH_PX, HEIGHT_PX = 3000, 2200
CELL_M = 60.0
TOWER_M, TOWER_SD_M = 36.0, 1.0
NAMES = (
    "east_m", "north_m", "lens_m", "bearing_rad", "tilt_rad", "roll_rad",
    "principal_distance_px", "rise_px", "cross_px", "k1", "vertical_scale",
    "warp_two_px", "warp_three_px",
)  # fmt: skip
#: Standard errors of an invented fix, in the order of the names; tilt and rise, bearing
#: and cross make up for one another below. The lens is wrong as the model is: by 5 m,
#: and by 1 m itself.
SDS = np.array(
    [15.0, 15.0, 5.1, 0.002, 0.008, 0.003, 60.0, 25.0, 30.0, 0.008, 0.002, 2.0, 1.0]
)


def root_of_doubts() -> Array:
    """Return rows whose squares make up the covariance of an invented fix."""
    root = np.diag(SDS)
    # A degree of tilt is made up by rise, a degree of bearing by cross.
    root[4, 7] = -SDS[4] * 3300.0
    root[8, 3] = -SDS[8] / 3300.0
    return root


def draws_about(
    middle: Array, normal: Array, land: Terrain | None = None
) -> CameraDraws:
    """Return cameras about one, for rows of normal numbers.

    With a terrain each stands as high above its own ground as the first.
    """
    values = middle + normal @ root_of_doubts()
    if land is not None:
        ground_m = height_m(
            land,
            np.append(values[:, 0], middle[0]),
            np.append(values[:, 1], middle[1]),
        ).astype(np.float64)
        values[:, 2] += ground_m[:-1] - ground_m[-1]
    columns = dict(zip(NAMES, values.T.copy(), strict=True))
    return CameraDraws(**columns, reversed=np.zeros(len(values), dtype=np.bool_))


@pytest.fixture(scope="session")
def land() -> Terrain:
    """Return matplotlib's Jacksboro fault sample, cells of 60 m, as an inland place."""
    ground = jacksboro(CELL_M)
    return Terrain(
        ground.elevation_m,
        ground.west_m,
        ground.south_m,
        ground.cell_m,
        Frame.local(-27.5, 41.2),
        "ground",
        CELL_M,
    )


@pytest.fixture(scope="session")
def solid(land: Terrain) -> SolidGround:
    return SolidGround.of(HorizonModel.of(land))


@pytest.fixture(scope="session")
def middle_camera(land: Terrain) -> Array:
    """Return a camera on a height, in the order of the names."""
    rows, columns = land.elevation_m.shape
    part = land.elevation_m[rows // 3 : 2 * rows // 3, columns // 3 : 2 * columns // 3]
    row, column = np.unravel_index(part.argmax(), part.shape)
    east_m = land.west_m + (columns // 3 + column) * CELL_M
    north_m = land.south_m + (rows // 3 + row) * CELL_M
    lens_m = float(part.max()) + TOWER_M
    return np.array(
        [east_m, north_m, lens_m, 0.7, -0.06, 0.004, 3300, 40, 10, 0.004, 0, 0, 0.0]
    )


@pytest.fixture(scope="session")
def make_mapping(
    land: Terrain, solid: SolidGround, middle_camera: Array
) -> Callable[..., Mapping]:
    """Return the function that makes a mapping of cameras about a middle one."""

    def made(
        rng: np.random.Generator,
        count: int = 300,
        camera: Array | None = None,
        doubts: Doubts | None = None,
        verdict: str = "located",
    ) -> Mapping:
        about = middle_camera if camera is None else camera
        normal = rng.standard_normal((count, len(NAMES)))
        cameras = PlateCameras(draws_about(about, normal, land), WIDTH_PX, HEIGHT_PX)
        place = KnownPlace(float(about[0]), float(about[1]), 0.97)
        return Mapping(
            solid,
            cameras,
            (WIDTH_PX, HEIGHT_PX),
            (place,),
            verdict,
            doubts or Doubts(),
            lens_height_m=TOWER_M,
            lens_height_sd_m=TOWER_SD_M,
        )

    return made


@pytest.fixture(scope="session")
def make_draws() -> Callable[..., CameraDraws]:
    return draws_about
