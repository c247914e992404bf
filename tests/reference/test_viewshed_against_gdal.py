"""Check the viewshed against GDAL's.

SOURCE: gdal_viewshed of GDAL (Debian's gdal-bin), on matplotlib's Jacksboro fault
sample. GDAL lowers ground by ``cc d^2 / D``, D twice the semi-major axis of the grid's
ellipsoid, so that k = 1 - cc and R = 6378137 m are the same here. GDAL looks from
node to node and takes heights between as linear along rows and columns, where the
program has the bilinear surface. So what differs lies on the verge of what
is seen; a march over the bilinear surface in steps of half a metre says of it what the
program says.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine
from scipy import ndimage

from wherestood.demo.ground import jacksboro
from wherestood.earth.frame import Frame
from wherestood.ground.viewshed import viewshed_from
from wherestood.terrain.ground import height_m
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.meet import SolidGround
from wherestood.terrain.model import Terrain

CELL_M, SEMI_MAJOR_M = 15.0, 6378137.0
CC, EYE_M = 0.87, 10.0
AT_LEAST = 0.99
#: Of the cells that differ.
ON_THE_VERGE, AS_MARCHED = 0.9, 0.9
MARCHED, STEP_M, ONE_TENTH_MILLIMETRE = 60, 0.5, 1e-4
WEST_M, NORTH_M = 500_000.0, 4_500_000.0


def hills(row: int, column: int):
    """Return a piece of the sample at 15 m, smooth between its own nodes."""
    coarse = jacksboro(60.0).elevation_m[row : row + 60, column : column + 60]
    return ndimage.zoom(coarse.astype(np.float64), 4, order=3).astype(np.float32)


def gdal_sees(folder: Path, heights, row: int, column: int):
    """Return GDAL's viewshed, row 0 the southernmost."""
    north_up = heights[::-1]
    with rasterio.open(
        folder / "hills.tif", "w", driver="GTiff", dtype="float32", count=1,
        height=heights.shape[0], width=heights.shape[1], crs="EPSG:32626",
        transform=Affine(CELL_M, 0, WEST_M, 0, -CELL_M, NORTH_M),
    ) as file:  # fmt: skip
        file.write(north_up, 1)
    east = WEST_M + (column + 0.5) * CELL_M
    north = NORTH_M - (heights.shape[0] - 1 - row + 0.5) * CELL_M
    subprocess.run(
        [
            "gdal_viewshed", "-q", "-b", "1", "-ox", str(east), "-oy", str(north),
            "-oz", str(EYE_M), "-tz", "0", "-md", "0", "-cc", str(CC),
            str(folder / "hills.tif"), str(folder / "seen.tif"),
        ],
        check=True, capture_output=True,
    )  # fmt: skip
    with rasterio.open(folder / "seen.tif") as file:
        return file.read(1)[::-1] > 0


@pytest.mark.outside_program("gdal_viewshed")
@pytest.mark.parametrize("corner", [(160, 160), (100, 200), (260, 260)])
def test_viewshed_agrees_with_gdal_on_99_percent_of_cells(
    tmp_path: Path, corner: tuple[int, int]
) -> None:
    heights = hills(*corner)
    inner = heights[60:180, 60:180]
    at = np.unravel_index(inner.argmax(), inner.shape)
    row, column = 60 + int(at[0]), 60 + int(at[1])
    land = Terrain(
        heights, 0.0, 0.0, CELL_M, Frame.local(-27.5, 41.2), "ground", CELL_M,
        refraction=1.0 - CC,
    )  # fmt: skip
    ground = SolidGround.of(HorizonModel.of(land, SEMI_MAJOR_M))
    eye = (column * CELL_M, row * CELL_M, float(heights[row, column]) + EYE_M)
    ours = viewshed_from(ground, eye, farthest_m=1e6)
    theirs = gdal_sees(tmp_path, heights, row, column)
    assert 0.1 < theirs.mean() < 0.9
    differ = ours != theirs
    assert differ.mean() < 1.0 - AT_LEAST
    assert _beside_an_edge(theirs)[differ].mean() > ON_THE_VERGE
    some = np.argwhere(differ)[:: max(1, int(differ.sum()) // MARCHED)]
    marched = [_marched(land, eye, row, column) for row, column in some]
    assert np.mean(marched == ours[tuple(some.T)]) > AS_MARCHED


def _marched(land: Terrain, eye: tuple[float, float, float], row: int, column: int):
    """Say whether a node shows by looking at the ground every half metre before it."""
    east, north = column * CELL_M, row * CELL_M
    away = np.hypot(east - eye[0], north - eye[1])
    share = np.linspace(0.0, 1.0, int(away / STEP_M) + 2)[1:-1]
    drop = CC / (2.0 * SEMI_MAJOR_M)
    tangent = (float(land.elevation_m[row, column]) - eye[2] - drop * away**2) / away
    line = eye[2] + tangent * away * share + drop * (away * share) ** 2
    ground = height_m(
        land, eye[0] + share * (east - eye[0]), eye[1] + share * (north - eye[1])
    )
    return not bool((ground > line + ONE_TENTH_MILLIMETRE).any())


def _beside_an_edge(seen):
    """Return cells that have a neighbour of the other kind."""
    padded = np.pad(seen, 1, mode="edge")
    rows, columns = seen.shape
    shifts = [(j, i) for j in range(3) for i in range(3)]
    around = np.array([padded[j : j + rows, i : i + columns] for j, i in shifts])
    return around.any(axis=0) != around.all(axis=0)
