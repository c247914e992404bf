"""Check that heights come out the same of every format.

GDAL reads an Arc/Info binary grid and cannot write one, so one is written here as
GDAL's own documentation describes it (F. Warmerdam, "Arc/Info Binary Grid Format",
1999; offsets from memory). GDAL, which reads it, is the check of the layout.
"""

from __future__ import annotations

import struct
import zipfile
from pathlib import Path

import numpy as np
import pyproj
import pytest

from wherestood.errors import TerrainError
from wherestood.terrain.read import open_terrain

EAST_M, NORTH_M, CELL_M = 400_000.0, 5_200_000.0, 30.0
EPSG = 32632
ONE_MILLIMETRE = 1e-3
TILE_COLUMNS, TILE_ROWS = 256, 4
_FLOAT_CELLS, _NOT_COMPRESSED = 2, 1
_MAGIC = bytes.fromhex("0000270affff")


def write_arc_info_grid(
    folder: Path, heights: np.ndarray, west_m: float, north_m: float, cell_m: float
) -> Path:
    """Write one band of float heights, first row north, without a CRS."""
    folder.mkdir(parents=True)
    rows, columns = heights.shape
    across, down = -(-columns // TILE_COLUMNS), -(-rows // TILE_ROWS)
    header = bytearray(308)
    header[0:8] = b"GRID1.2\0"
    struct.pack_into(">ii", header, 16, _FLOAT_CELLS, _NOT_COMPRESSED)
    struct.pack_into(">dd", header, 256, cell_m, cell_m)
    struct.pack_into(">iiiii", header, 288, across, down, TILE_COLUMNS, 1, TILE_ROWS)
    (folder / "hdr.adf").write_bytes(header)
    south_m, east_m = north_m - rows * cell_m, west_m + columns * cell_m
    bounds = struct.pack(">dddd", west_m, south_m, east_m, north_m)
    (folder / "dblbnd.adf").write_bytes(bounds)
    spread = float(heights.min()), float(heights.max()), float(heights.mean()), 1.0
    (folder / "sta.adf").write_bytes(struct.pack(">dddd", *spread))
    padded = np.pad(
        heights.astype(">f4"),
        ((0, down * TILE_ROWS - rows), (0, across * TILE_COLUMNS - columns)),
    )
    _write_tiles(folder, padded)
    return folder


def name_the_system(folder: Path, epsg: int) -> None:
    """Put a projection file into the grid's folder."""
    text = pyproj.CRS.from_epsg(epsg).to_wkt("WKT1_ESRI")
    (folder / "prj.adf").write_text(text)


def _write_tiles(folder: Path, padded: np.ndarray) -> None:
    tiles, index = bytearray(100), bytearray(100)
    tiles[:6] = index[:6] = _MAGIC
    for row in range(0, padded.shape[0], TILE_ROWS):
        for column in range(0, padded.shape[1], TILE_COLUMNS):
            tile = padded[row : row + TILE_ROWS, column : column + TILE_COLUMNS]
            content = tile.tobytes()
            # Places and sizes count words of two bytes.
            index += struct.pack(">ii", len(tiles) // 2, len(content) // 2)
            tiles += struct.pack(">h", len(content) // 2) + content
    struct.pack_into(">i", tiles, 24, len(tiles) // 2)
    struct.pack_into(">i", index, 24, len(index) // 2)
    (folder / "w001001.adf").write_bytes(tiles)
    (folder / "w001001x.adf").write_bytes(index)


def heights_in_text(heights: np.ndarray, separator: str = " ") -> str:
    """Return one point a line: x, y and height, row by row from the north."""
    rows, columns = np.indices(heights.shape)
    points = zip(
        (EAST_M + (columns + 0.5) * CELL_M).ravel(),
        (NORTH_M - (rows + 0.5) * CELL_M).ravel(),
        heights.ravel(),
        strict=True,
    )
    return "".join(f"{x}{separator}{y}{separator}{z}\n" for x, y, z in points)


@pytest.mark.parametrize(
    ("name", "driver"), [("a.asc", "AAIGrid"), ("a.img", "HFA"), ("a.flt", "EHdr")]
)
def test_rasters_written_by_gdal_read_the_same(write_raster, slope, name, driver):
    terrain = open_terrain(write_raster(name, slope, driver=driver))
    np.testing.assert_array_equal(terrain.elevation_m, slope[::-1])


@pytest.mark.parametrize("whole_folder", [False, True], ids=["grid", "folder of grids"])
def test_arc_info_grid_is_a_folder(tmp_path: Path, slope, whole_folder) -> None:
    grid = write_arc_info_grid(
        tmp_path / "data" / "hills", slope, EAST_M, NORTH_M, CELL_M
    )
    name_the_system(grid, EPSG)
    terrain = open_terrain(grid.parent if whole_folder else grid)
    np.testing.assert_array_equal(terrain.elevation_m, slope[::-1])
    assert terrain.cell_m == pytest.approx(CELL_M, rel=1e-3)  # scale of the zone
    assert terrain.sources[0].path == str(grid)


def test_arc_info_grid_is_read_inside_a_zip(tmp_path: Path, slope) -> None:
    grid = write_arc_info_grid(tmp_path / "hills", slope, EAST_M, NORTH_M, CELL_M)
    name_the_system(grid, EPSG)
    packed = tmp_path / "hills.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        for part in sorted(grid.iterdir()):
            archive.write(part, f"hills/{part.name}")
    terrain = open_terrain(packed)
    np.testing.assert_array_equal(terrain.elevation_m, slope[::-1])


def test_arc_info_grid_without_a_system_says_which_file_to_add(
    tmp_path: Path, slope
) -> None:
    grid = write_arc_info_grid(tmp_path / "hills", slope, EAST_M, NORTH_M, CELL_M)
    with pytest.raises(TerrainError, match="which coordinate system") as caught:
        open_terrain(grid)
    assert "prj.adf" in caught.value.remedy
    (grid / "prj.adf").write_text(f"EPSG:{EPSG}")
    assert open_terrain(grid).frame.crs == f"EPSG:{EPSG}"


@pytest.mark.parametrize("separator", [" ", ","])
def test_points_in_text_are_a_raster(tmp_path: Path, slope, separator) -> None:
    path = tmp_path / "a.xyz"
    path.write_text(heights_in_text(slope, separator))
    path.with_suffix(".prj").write_text(f"EPSG:{EPSG}")
    terrain = open_terrain(path)
    np.testing.assert_array_equal(terrain.elevation_m, slope[::-1])
    # The height stands where its line says.
    lonlat = terrain.frame.to_lonlat(terrain.west_m, terrain.south_m)
    to_grid = pyproj.Transformer.from_crs(4326, EPSG, always_xy=True)
    np.testing.assert_allclose(
        to_grid.transform(*lonlat),
        (EAST_M + 0.5 * CELL_M, NORTH_M - 39.5 * CELL_M),
        atol=ONE_MILLIMETRE,
    )


def test_points_in_text_without_a_system_are_refused(tmp_path: Path, slope) -> None:
    path = tmp_path / "a.xyz"
    path.write_text(heights_in_text(slope))
    with pytest.raises(TerrainError, match="which coordinate system") as caught:
        open_terrain(path)
    assert "a.prj" in caught.value.remedy


def test_points_out_of_order_are_refused_with_the_order_wanted(
    tmp_path: Path, slope
) -> None:
    lines = heights_in_text(slope).splitlines(keepends=True)
    np.random.default_rng(1).shuffle(lines)
    path = tmp_path / "a.xyz"
    path.write_text("".join(lines))
    with pytest.raises(TerrainError, match="not a raster that can be read") as caught:
        open_terrain(path)
    assert "sorted by row" in caught.value.remedy


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("hills.hgt", "such as N46E008.hgt"),
        ("hills.hgt.gz", "unpack it first"),
        ("hills.flt", "The header hills.hdr must lie beside it."),
        ("hills.dat", "Expected GeoTIFF, ASCII grid, HGT"),
    ],
)
def test_what_cannot_be_read_is_told_by_its_name(tmp_path: Path, name, words) -> None:
    path = tmp_path / name
    path.write_bytes(bytes(100))
    with pytest.raises(TerrainError, match="not a raster that can be read") as caught:
        open_terrain(path)
    assert words in caught.value.remedy
