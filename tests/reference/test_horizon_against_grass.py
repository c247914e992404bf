"""Check horizons against GRASS's r.horizon, and settle how far it is off.

SOURCE: GRASS GIS 8.2, module r.horizon (Debian package grass-core), run here; how it
works is from memory of its source. It walks a ray one cell at a time, takes the height
of the *nearest* cell, divides by the distance to that cell's centre, and leaps over
coarse blocks; its curvature is that of a sphere of 6 371 km without refraction. So it
is exact along grid lines and off elsewhere: on this ground 0.12 deg rms, at most 0.8
deg. A march of ours that takes the same liberties (and does not leap) gives its very
numbers on nine rays in ten, which shows that they, not an error of the exact horizon,
are the difference.

It refuses a location without a projection, since it turns each bearing to true north by
a rule for a sphere. Here the location is a sphere's, on which grid north and the rule
agree; in an ellipsoidal one (UTM) it followed the march far less often.
"""

from __future__ import annotations

import subprocess

import numpy as np
import pytest
import rasterio
from rasterio import Affine
from scipy import ndimage

from wherestood.demo.ground import jacksboro
from wherestood.earth.frame import Frame
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain

CELL_M = 90.0
FARTHEST_M = 12_000.0
EARTH_RADIUS_M = 6_371_000.0  # r.horizon's EARTHRADIUS
STEP_DEG = 2.0
# r.horizon prints six decimals; its lengths are float, its heights ours.
PRINTED_DEG = 5e-6
SPHERE = f"+proj=merc +R={EARTH_RADIUS_M} +units=m +no_defs"


@pytest.fixture(scope="module")
def heights_m():
    return jacksboro(CELL_M).elevation_m


@pytest.fixture(scope="module")
def station(heights_m):
    """Return row and column of a station on high ground."""
    middle = heights_m[120:220, 130:230]
    row, column = np.unravel_index(middle.argmax(), middle.shape)
    return int(row) + 120, int(column) + 130


@pytest.fixture(scope="module")
def grass_deg(heights_m, station, tmp_path_factory):
    """Return bearings and horizon elevations [deg] from r.horizon."""
    folder = tmp_path_factory.mktemp("grass")
    rows, columns = heights_m.shape
    with rasterio.open(
        folder / "ground.tif",
        "w",
        driver="GTiff",
        height=rows,
        width=columns,
        count=1,
        dtype="float32",
        crs=SPHERE,
        # Cell centres are our nodes: east = 90 * column, north = 90 * row.
        transform=Affine(
            CELL_M, 0.0, -CELL_M / 2, 0.0, -CELL_M, rows * CELL_M - CELL_M / 2
        ),
    ) as target:
        target.write(heights_m[::-1], 1)
    east_m, north_m = station[1] * CELL_M, station[0] * CELL_M
    commands = "\n".join(
        (
            "set -e",
            "r.in.gdal --quiet input=ground.tif output=ground",
            "g.region raster=ground",
            "r.horizon -d -c --quiet elevation=ground "
            f"coordinates={east_m},{north_m} step={STEP_DEG} "
            f"maxdistance={FARTHEST_M} file=horizon.csv",
        )
    )
    (folder / "run.sh").write_text(commands)
    subprocess.run(
        ["grass", "--tmp-location", "ground.tif", "--exec", "bash", "run.sh"],
        cwd=folder,
        check=True,
        capture_output=True,
        timeout=120,
    )
    table = np.loadtxt(folder / "horizon.csv", delimiter=",", skiprows=1)
    return table[:, 0], table[:, 1]


def our_horizon(heights_m, station, bearings_deg, height_m=None):
    terrain = Terrain(heights_m, 0.0, 0.0, CELL_M, Frame.local(0, 36), refraction=0.0)
    found = HorizonModel.of(terrain, EARTH_RADIUS_M).horizons(
        np.array([station[1] * CELL_M]),
        np.array([station[0] * CELL_M]),
        np.array([np.float64(heights_m[station] if height_m is None else height_m)]),
        np.radians(bearings_deg),
        nearest_m=CELL_M,
        farthest_m=FARTHEST_M,
    )
    return np.degrees(np.arctan(found.tangent[0])), found.distance_m[0]


def nearest_cell_march_deg(heights_m, station, bearings_deg):
    """March as r.horizon does: cell by cell, nearest height, cell-centre distance."""
    found = np.empty(bearings_deg.size)
    steps = np.arange(1.0, FARTHEST_M / CELL_M + 1.0)
    for k, bearing in enumerate(np.radians(bearings_deg)):
        column = np.floor(station[1] + steps * np.sin(bearing) + 0.5).astype(int)
        row = np.floor(station[0] + steps * np.cos(bearing) + 0.5).astype(int)
        inside = (
            (row >= 0)
            & (column >= 0)
            & (row < heights_m.shape[0])
            & (column < heights_m.shape[1])
        )
        row, column = row[inside], column[inside]
        away_m = CELL_M * np.hypot(row - station[0], column - station[1])
        near = away_m <= FARTHEST_M
        drop_m = away_m**2 / (2 * EARTH_RADIUS_M)
        rise_m = heights_m[row, column].astype(np.float64) - heights_m[station] - drop_m
        found[k] = np.degrees(np.arctan(np.max(rise_m[near] / away_m[near])))
    return found


@pytest.mark.outside_program("grass")
def test_a_march_with_its_liberties_gives_its_very_numbers(
    heights_m, station, grass_deg
):
    bearings_deg, theirs_deg = grass_deg
    marched_deg = nearest_cell_march_deg(heights_m, station, bearings_deg)
    same = np.abs(marched_deg - theirs_deg) < PRINTED_DEG
    # Measured: 164 of 180; its leaps, which the march does not make, would explain
    # the rest.
    assert same.mean() > 0.85


@pytest.mark.outside_program("grass")
def test_grass_is_exact_along_grid_lines(heights_m, station, grass_deg):
    """There the nearest cell is the ray's own, and a bilinear ridge is a node."""
    bearings_deg, theirs_deg = grass_deg
    ours_deg, _ = our_horizon(heights_m, station, bearings_deg)
    along = bearings_deg % 90.0 == 0.0
    assert along.sum() == 4
    assert np.abs(ours_deg - theirs_deg)[along].max() < PRINTED_DEG


@pytest.mark.outside_program("grass")
def test_grass_is_off_by_no_more_than_the_next_cells_allow(
    heights_m, station, grass_deg
):
    bearings_deg, theirs_deg = grass_deg
    marched_deg = nearest_cell_march_deg(heights_m, station, bearings_deg)
    followed = np.abs(marched_deg - theirs_deg) < PRINTED_DEG
    # What it reads lies within the range of heights of a cell and its neighbours.
    own_m = heights_m[station]
    lowest = ndimage.minimum_filter(heights_m, 3)
    highest = ndimage.maximum_filter(heights_m, 3)
    low_deg, _ = our_horizon(lowest, station, bearings_deg, own_m)
    high_deg, _ = our_horizon(highest, station, bearings_deg, own_m)
    assert np.all((low_deg <= theirs_deg)[followed])
    assert np.all((theirs_deg <= high_deg)[followed])
    # ... and that is most, seen as an angle, where the horizon is near. Measured:
    # rms 0.10 deg nearer than 4 km, 0.055 deg beyond.
    ours_deg, distance_m = our_horizon(heights_m, station, bearings_deg)
    apart_deg = np.abs(ours_deg - theirs_deg)[followed]
    near = distance_m[followed] < 4_000.0
    rms_near_deg = np.sqrt(np.mean(apart_deg[near] ** 2))
    rms_far_deg = np.sqrt(np.mean(apart_deg[~near] ** 2))
    assert 0.02 < rms_far_deg < rms_near_deg < 0.2
