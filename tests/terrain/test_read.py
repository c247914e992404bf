"""Check that elevation files become a terrain whose nodes lie right."""

from __future__ import annotations

import struct
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
import rasterio
from rasterio import Affine

from wherestood.earth import Frame
from wherestood.terrain import Terrain, height_m, open_terrain

EAST_M, NORTH_M = 400_000.0, 5_200_000.0
ONE_MILLIONTH_OF_A_CELL = 1e-6
# Heights are float32: 4000 m are good to a quarter of a millimetre.
ONE_MILLIMETRE = 1e-3
# The control points of a resampled grid are exact, the spline between them too.
FLOAT32_OF_A_PLANE_M = 2e-3
FOOT_M = 0.3048


def north_up(west: float, north: float, cell: float) -> Affine:
    return Affine(cell, 0.0, west, 0.0, -cell, north)


def node_lonlat(terrain: Terrain) -> tuple[np.ndarray, np.ndarray]:
    rows, columns = terrain.elevation_m.shape
    east = terrain.west_m + np.arange(columns) * terrain.cell_m
    north = terrain.south_m + np.arange(rows) * terrain.cell_m
    return terrain.frame.to_lonlat(*np.meshgrid(east, north))


def all_notes(terrain: Terrain) -> str:
    return "\n".join(note for source in terrain.sources for note in source.notes)


# --- native cells


def test_conformal_metric_grid_keeps_its_cells(write_raster, slope) -> None:
    terrain = open_terrain(write_raster("a.tif", slope))
    np.testing.assert_array_equal(terrain.elevation_m, slope[::-1])
    scale = terrain.frame.scale
    cell = terrain.cell_m * scale
    assert cell == pytest.approx(30.0, abs=ONE_MILLIONTH_OF_A_CELL)
    # Row 0 is the southernmost; nodes stand at the centres of cells.
    assert abs(terrain.west_m * scale - (EAST_M + 15.0)) < 30 * ONE_MILLIONTH_OF_A_CELL
    south = NORTH_M - 40 * 30.0 + 15.0
    assert abs(terrain.south_m * scale - south) < 30 * ONE_MILLIONTH_OF_A_CELL


def test_window_of_native_cells_is_the_same_cells(write_raster, slope) -> None:
    path = write_raster("a.tif", slope)
    whole = open_terrain(path)
    lon, lat = node_lonlat(whole)
    part = open_terrain(path, around=(lon[20, 25], lat[20, 25]), radius_m=200.0)
    column = round((part.west_m * part.frame.scale - EAST_M - 15.0) / 30.0)
    row = round((part.south_m * part.frame.scale - NORTH_M + 1200.0 - 15.0) / 30.0)
    rows, columns = part.elevation_m.shape
    assert rows < 20
    np.testing.assert_array_equal(
        part.elevation_m, whole.elevation_m[row : row + rows, column : column + columns]
    )
    assert part.west_m <= whole.west_m + 25 * whole.cell_m - 200.0


@pytest.mark.parametrize(
    ("crs", "west", "north"),
    [
        ("EPSG:2056", 2_644_000.0, 1_228_000.0),  # oblique Mercator
        ("EPSG:2154", 950_000.0, 6_450_000.0),  # Lambert conformal conic
        ("EPSG:28992", 150_000.0, 450_000.0),  # oblique stereographic
        ("EPSG:3031", 300_000.0, -1_300_000.0),  # polar stereographic
    ],
)
def test_national_conformal_grids_keep_their_cells(
    write_raster, slope, crs: str, west: float, north: float
) -> None:
    path = write_raster("a.tif", slope, crs=crs, transform=north_up(west, north, 25.0))
    terrain = open_terrain(path)
    assert terrain.elevation_m.shape == slope.shape
    assert terrain.frame.crs == crs


# --- resampling


@pytest.mark.parametrize(
    ("crs", "transform"),
    [
        ("EPSG:4326", north_up(8.0, 47.0, 1 / 1200)),
        ("EPSG:3035", north_up(4_300_000.0, 2_700_000.0, 30.0)),
        ("EPSG:3857", north_up(900_000.0, 6_000_000.0, 30.0)),
        ("EPSG:3857", north_up(900_000.0, 1_000.0, 30.0)),
        ("EPSG:3395", north_up(900_000.0, 11_000_000.0, 300.0)),
        ("EPSG:32632", Affine(30.0, 0.0, EAST_M, 0.0, -40.0, NORTH_M)),
        ("EPSG:32632", Affine(28.0, 10.0, EAST_M, 10.0, -28.0, NORTH_M)),
        ("EPSG:32632", Affine(30.0, 0.0, EAST_M, 0.0, 30.0, NORTH_M)),
        ("EPSG:2229", north_up(6_500_000.0, 1_900_000.0, 100.0)),
    ],
    ids=[
        "geographic",
        "not conformal",
        "sphere on the web",
        "sphere on the web at the equator",
        "scale that changes within the terrain",
        "oblong cells",
        "turned",
        "south up",
        "laid out in feet",
    ],
)
def test_other_grids_are_resampled_to_half_a_cell_at_the_right_place(
    write_raster, slope, crs: str, transform: Affine
) -> None:
    terrain = open_terrain(write_raster("a.tif", slope, crs=crs, transform=transform))
    assert terrain.cell_m == pytest.approx(terrain.source_cell_m / 2.0)
    lon, lat = node_lonlat(terrain)
    to_file = pyproj.Transformer.from_crs(4326, crs, always_xy=True)
    x, y = to_file.transform(lon, lat)
    inverse = ~transform
    column = inverse.a * x + inverse.b * y + inverse.c - 0.5
    row = inverse.d * x + inverse.e * y + inverse.f - 0.5
    known = np.isfinite(terrain.elevation_m)
    inside = (column >= 0) & (column <= 49) & (row >= 0) & (row <= 39)
    np.testing.assert_array_equal(known, inside)
    np.testing.assert_allclose(
        terrain.elevation_m[known],
        (500.0 + column + 2.0 * row)[known],
        atol=FLOAT32_OF_A_PLANE_M,
    )
    assert "resampled by cubic convolution" in all_notes(terrain)


def test_resampling_keeps_a_crest_that_bilinear_planes_off(write_raster) -> None:
    columns = np.arange(400)
    profile = 100.0 * np.exp(-(((columns - 200.5) / 2.5) ** 2))
    heights = np.tile(profile, (60, 1)).astype(np.float32)
    path = write_raster(
        "ridge.tif", heights, crs="EPSG:4326", transform=north_up(8.0, 47.0, 1 / 3600)
    )
    terrain = open_terrain(path)
    ridge_lon = np.full(50, 8.0 + 201.0 / 3600)
    ridge_lat = np.linspace(46.986, 46.998, 50)
    crest = height_m(terrain, *terrain.frame.from_lonlat(ridge_lon, ridge_lat))
    # Between the two highest nodes: 96.1 m each, 100 m in truth.
    bilinear_m = float(heights.max())
    assert bilinear_m < 96.2
    assert float(np.median(crest)) > bilinear_m + 2.0


# --- pixel is point, pixel is area


def _hand_made_geotiff(path: Path, heights: np.ndarray, raster_type: int) -> Path:
    """Write a GeoTIFF byte by byte, so that no library decides where it lies.

    Tags as in the GeoTIFF standard (OGC 19-008r4): the tie point holds raster
    position (0, 0) at ``EAST_M, NORTH_M``; GTRasterTypeGeoKey 1 is pixel-is-area,
    2 is pixel-is-point.
    """
    rows, columns = heights.shape
    data = heights.astype("<f4").tobytes()
    scale = struct.pack("<3d", 30.0, 30.0, 0.0)
    tie = struct.pack("<6d", 0.0, 0.0, 0.0, EAST_M, NORTH_M, 0.0)
    keys = (1, 1, 0, 3, 1024, 0, 1, 1, 1025, 0, 1, raster_type, 3072, 0, 1, 32632)
    key_bytes = struct.pack("<16H", *keys)
    entries = 13
    after = 8 + 2 + 12 * entries + 4
    at_scale, at_tie = after, after + len(scale)
    at_keys = at_tie + len(tie)
    at_data = at_keys + len(key_bytes)
    short, long, double = 3, 4, 12
    directory = [
        (256, long, 1, columns),
        (257, long, 1, rows),
        (258, short, 1, 32),
        (259, short, 1, 1),
        (262, short, 1, 1),
        (273, long, 1, at_data),
        (277, short, 1, 1),
        (278, long, 1, rows),
        (279, long, 1, len(data)),
        (339, short, 1, 3),
        (33550, double, 3, at_scale),
        (33922, double, 6, at_tie),
        (34735, short, 16, at_keys),
    ]
    head = struct.pack("<2sHI", b"II", 42, 8) + struct.pack("<H", entries)
    body = b"".join(struct.pack("<HHII", *entry) for entry in directory)
    path.write_bytes(
        head + body + struct.pack("<I", 0) + scale + tie + key_bytes + data
    )
    return path


@pytest.mark.parametrize(("raster_type", "offset_m"), [(1, 15.0), (2, 0.0)])
def test_geotiff_nodes_lie_where_its_raster_type_says(
    tmp_path: Path, slope, raster_type: int, offset_m: float
) -> None:
    terrain = open_terrain(_hand_made_geotiff(tmp_path / "a.tif", slope, raster_type))
    scale = terrain.frame.scale
    top_m = (terrain.south_m + 39 * terrain.cell_m) * scale
    tolerance_m = 30.0 * ONE_MILLIONTH_OF_A_CELL
    assert abs(terrain.west_m * scale - (EAST_M + offset_m)) < tolerance_m
    assert abs(top_m - (NORTH_M - offset_m)) < tolerance_m


def _hgt(path: Path, heights: np.ndarray) -> Path:
    path.write_bytes(heights.astype(">i2").tobytes())
    return path


def test_hgt_nodes_lie_on_whole_arc_seconds(tmp_path: Path) -> None:
    """SRTM's HGT: 1201 samples a side, the first on the tile's very corner."""
    columns = np.tile(np.arange(1201), (1201, 1))
    terrain = open_terrain(
        _hgt(tmp_path / "N46E008.hgt", columns), around=(8.5, 46.5), radius_m=5000.0
    )
    lon, _ = node_lonlat(terrain)
    # The heights are the column, so they are the longitude in cells.
    off_cells = terrain.elevation_m - (lon - 8.0) * 1200.0
    assert np.abs(off_cells).max() < 1e-4  # float32 of 600 is good to 3e-5


def test_neighbouring_hgt_tiles_join_without_a_gap(tmp_path: Path) -> None:
    rows, columns = np.mgrid[0:1201, 0:1201]
    _hgt(tmp_path / "N46E007.hgt", columns + rows)
    _hgt(tmp_path / "N46E008.hgt", columns + 1200 + rows)
    terrain = open_terrain(tmp_path, around=(8.0, 46.5), radius_m=3000.0)
    lon, lat = node_lonlat(terrain)
    expected = (lon - 7.0) * 1200.0 + (47.0 - lat) * 1200.0
    assert np.abs(terrain.elevation_m - expected).max() < 1e-3
    assert len(terrain.sources) == 2


def test_tiles_that_abut_join_without_a_gap(write_raster, slope) -> None:
    right = write_raster(
        "right.tif", slope + 50.0, transform=north_up(EAST_M + 1500.0, NORTH_M, 30.0)
    )
    terrain = open_terrain([write_raster("left.tif", slope), right])
    expected = np.hstack([slope, slope + 50.0])[::-1]
    np.testing.assert_array_equal(terrain.elevation_m, expected)


def test_tiles_on_both_sides_of_the_antimeridian_are_one_land(write_raster) -> None:
    columns = np.tile(np.arange(120, dtype=np.float32), (120, 1))
    west = write_raster(
        "w.tif",
        columns,
        crs="EPSG:4326",
        transform=north_up(179.9, -17.0, 1 / 1200),
    )
    east = write_raster(
        "e.tif",
        columns + 120,
        crs="EPSG:4326",
        transform=north_up(-180.0, -17.0, 1 / 1200),
    )
    terrain = open_terrain([west, east], around=(180.0, -17.05), radius_m=3000.0)
    lon, _ = node_lonlat(terrain)
    expected = (lon % 360.0 - 179.9) * 1200.0 - 0.5
    assert np.isfinite(terrain.elevation_m).all()
    off_cells = np.abs(terrain.elevation_m - expected)
    assert off_cells.max() < FLOAT32_OF_A_PLANE_M


# --- units


@pytest.mark.parametrize(
    ("options", "metres", "words"),
    [
        ({"unit": "ft"}, FOOT_M, "heights in ft"),
        ({"unit": "US survey foot"}, 1200 / 3937, "heights in US survey foot"),
        ({"crs": "EPSG:32632+6360"}, 1200 / 3937, "US survey foot"),
        ({"unit": "metre"}, 1.0, "heights in metre"),
        ({}, 1.0, "height unit not stated; heights taken as metres"),
        ({"unit": "fathom"}, 1.0, "Warning: unknown height unit 'fathom'"),
        ({"scale": 0.1, "offset": 7.0}, None, "scaled by 0.1 and moved by 7"),
    ],
)
def test_heights_come_in_metres(
    write_raster, slope, options: dict[str, Any], metres: float | None, words: str
) -> None:
    terrain = open_terrain(write_raster("a.tif", slope, **options))
    expected = slope * 0.1 + 7.0 if metres is None else slope * metres
    np.testing.assert_allclose(terrain.elevation_m, expected[::-1], atol=ONE_MILLIMETRE)
    assert words in all_notes(terrain)


def test_unlabelled_heights_on_a_grid_in_feet_are_doubted(write_raster, slope) -> None:
    path = write_raster(
        "a.tif", slope, crs="EPSG:2229", transform=north_up(6.5e6, 1.9e6, 100.0)
    )
    assert "they may be feet" in all_notes(open_terrain(path))


def test_heights_above_any_mountain_are_doubted(write_raster, slope) -> None:
    notes = all_notes(open_terrain(write_raster("a.tif", slope * 20.0)))
    assert "Warning: heights up to 12540 m are above any mountain" in notes
    assert "Warning: half of the ground is steeper than" in notes


def test_vertical_datum_is_the_file_s_or_unknown(write_raster, slope) -> None:
    named = open_terrain(write_raster("a.tif", slope, crs="EPSG:32632+5773"))
    assert named.sources[0].vertical_datum == "EGM96 height"
    assert named.sources[0].crs == "EPSG:32632"
    silent = open_terrain(write_raster("b.tif", slope))
    assert silent.sources[0].vertical_datum == "unknown"
    ellipsoid = open_terrain(
        write_raster(
            "c.tif", slope, crs="EPSG:4979", transform=north_up(8.0, 47.0, 1 / 3600)
        )
    )
    assert ellipsoid.sources[0].vertical_datum == "ellipsoid of WGS 84"


# --- holes, sea, edge


@pytest.mark.parametrize(
    ("value", "options", "words"),
    [
        (-9999.0, {"nodata": -9999.0}, ""),
        (-9999.0, {}, "undeclared no-data values"),
        (-32768.0, {}, "undeclared no-data values"),
        (-3.4028234663852886e38, {}, "undeclared no-data values"),
        (np.nan, {}, ""),
    ],
)
def test_small_hole_is_filled_and_counted_and_a_large_one_kept(
    write_raster, value: float, options: dict[str, Any], words: str
) -> None:
    rows, columns = np.mgrid[0:80, 0:100]
    heights = (500.0 + columns + 2.0 * rows).astype(np.float32)
    truth = heights.copy()
    heights[10:14, 20:25] = value
    heights[40:60, 40:65] = value
    terrain = open_terrain(write_raster("a.tif", heights, **options))
    got = terrain.elevation_m[::-1]
    small = np.s_[10:14, 20:25]
    assert np.isfinite(got[small]).all()
    # Inverse-distance weights stay within the range of the rim.
    assert np.abs(got[small] - truth[small]).max() < 10.0
    assert np.isnan(got[44:56, 44:61]).all()
    notes = all_notes(terrain)
    assert "520 of 8000 heights read are void" in notes
    assert "20 heights filled in holes at most 10 cells across" in notes
    assert words in notes
    (warning,) = [n for n in notes.splitlines() if "large holes" in n]
    share = float(warning.split("Warning: ")[1].split(" %")[0])
    # 500 of 8000 cells; the outer half of a rim cell counts as no ground.
    assert share == pytest.approx(100.0 * 500 / 8000, abs=0.3)


def test_sea_and_edge_of_data_are_known_as_such(write_raster, slope) -> None:
    heights = np.maximum(slope - 540.0, 0.0)
    terrain = open_terrain(write_raster("a.tif", heights))
    assert terrain.water is not None
    np.testing.assert_array_equal(terrain.water, heights[::-1] == 0.0)
    assert "known as sea" in all_notes(terrain)


def test_sea_floor_does_not_pull_down_the_shore(write_raster) -> None:
    heights = np.full((60, 120), 50.0, dtype=np.float32)
    heights[:, 60:] = -1000.0
    path = write_raster(
        "a.tif", heights, crs="EPSG:4326", transform=north_up(8.0, 47.0, 1 / 1200)
    )
    terrain = open_terrain(path)
    known = np.isfinite(terrain.elevation_m)
    assert terrain.water is not None
    assert (terrain.elevation_m[terrain.water] == 0.0).all()
    land = terrain.elevation_m[known & ~terrain.water]
    # Cubic convolution overshoots a step by at most 7 % of its 50 m.
    assert land.min() > 20.0
    assert land.max() < 54.0
    assert "the model holds a sea floor" in all_notes(terrain)


def test_land_without_sea_has_no_water(write_raster, slope) -> None:
    assert open_terrain(write_raster("a.tif", slope)).water is None


def test_area_partly_outside_is_said_with_its_share(write_raster, slope) -> None:
    path = write_raster("a.tif", slope)
    lon, lat = node_lonlat(open_terrain(path))
    # Centred on the western edge: half of the circle has no terrain.
    terrain = open_terrain(path, around=(lon[20, 0], lat[20, 0]), radius_m=500.0)
    (note,) = [n for n in terrain.sources[0].notes if "lies outside" in n]
    share = float(note.split("Warning: ")[1].split(" %")[0])
    # Half a cell of ground lies west of the western nodes: 1.9 % of the circle.
    assert share == pytest.approx(50.0 - 1.9, abs=1.0)
    assert "of the ground within 0.5 km" in note


# --- size


def _sparse(path: Path, side: int) -> Path:
    """Write a GeoTIFF of huge nominal size that holds one block of heights."""
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=side,
        height=side,
        count=1,
        dtype="float32",
        crs="EPSG:32632",
        transform=north_up(0.0, 6_000_000.0, 4.0),
        tiled=True,
        blockxsize=1024,
        blockysize=1024,
        sparse_ok=True,
        bigtiff=True,
        nodata=-9999.0,
    ) as dataset:
        rows, columns = np.mgrid[0:1024, 0:1024]
        window = rasterio.windows.Window(102_400, 102_400, 1024, 1024)
        dataset.write((100.0 + columns + rows).astype(np.float32), 1, window=window)
    return path


def test_file_of_a_hundred_gigabytes_is_read_by_the_window(tmp_path: Path) -> None:
    path = _sparse(tmp_path / "huge.tif", 163_840)  # 107 GB were it all there
    frame = Frame.on_crs("EPSG:32632", 5.4, 50.0)
    middle = np.array((102_400 + 512) * 4.0)
    lon, lat = frame.to_lonlat(
        middle / frame.scale, (6_000_000.0 - middle) / frame.scale
    )
    terrain = open_terrain(path, around=(float(lon), float(lat)), radius_m=1500.0)
    rows, columns = terrain.elevation_m.shape
    assert rows * columns < 1_000_000
    assert float(np.median(terrain.elevation_m)) == pytest.approx(100.0 + 1023.0, abs=2)


def test_cell_of_a_world_wide_raster_is_measured_where_it_is_used(
    tmp_path: Path,
) -> None:
    path = tmp_path / "world.tif"
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=43_200,
        height=21_600,
        count=1,
        dtype="int16",
        crs="EPSG:4326",
        transform=north_up(-180.0, 90.0, 1 / 120),
        tiled=True,
        sparse_ok=True,
    ) as dataset:
        heights = np.full((400, 400), 700, dtype=np.int16)
        window = rasterio.windows.Window(22_400, 3400, 400, 400)
        dataset.write(heights, 1, window=window)
    terrain = open_terrain(path, around=(8.0, 60.0), radius_m=20_000.0)
    # 1/120 deg at latitude 60: 928.5 m along the meridian, 465.0 m across it
    # (111.415 km and 55.802 km a degree there on WGS 84).
    expected_m = np.sqrt(111_415.0 * 55_802.0) / 120.0
    assert terrain.source_cell_m == pytest.approx(expected_m, rel=1e-4)
    np.testing.assert_array_equal(terrain.elevation_m, 700.0)


def test_whole_of_a_continent_is_refused_with_a_remedy(tmp_path: Path) -> None:
    from wherestood.errors import TerrainError

    with pytest.raises(TerrainError, match="cover more than 800 km") as caught:
        open_terrain(_sparse(tmp_path / "huge.tif", 262_144))
    assert "Say around which place" in caught.value.remedy


def test_too_many_cells_are_averaged_and_said(write_raster, slope) -> None:
    terrain = open_terrain(write_raster("a.tif", slope), max_nodes=500)
    assert terrain.elevation_m.shape == (20, 25)
    blocks = slope.reshape(20, 2, 25, 2).mean(axis=(1, 3))
    np.testing.assert_allclose(terrain.elevation_m, blocks[::-1], atol=ONE_MILLIMETRE)
    scale = terrain.frame.scale
    assert terrain.cell_m * scale == pytest.approx(60.0)
    assert terrain.west_m * scale == pytest.approx(EAST_M + 30.0)
    assert "2 x 2 cells averaged into one" in all_notes(terrain)


MEMORY_LIMIT_MB = 600


@pytest.mark.skipif(
    not Path("/proc/self/status").exists(), reason="peak memory is read from /proc"
)
def test_seventy_kilometres_at_15_m_open_within_600_mb(tmp_path: Path) -> None:
    path = tmp_path / "large.tif"
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=4700,
        height=4700,
        count=1,
        dtype="int16",
        crs="EPSG:32632",
        transform=north_up(465_000.0, 5_235_000.0, 15.0),
        tiled=True,
        compress="lzw",
        nodata=-32768,
    ) as dataset:
        tall = (np.arange(4700) // 10).astype(np.int16)
        heights = np.tile(np.maximum(tall - 100, 0), (4700, 1))
        heights[2000:2005, 2000:2300] = -32768
        dataset.write(heights, 1)
    # VmHWM is the child's own peak; ru_maxrss would count its parent's as well.
    program = (
        "import sys; from wherestood.terrain import open_terrain; "
        "t = open_terrain(sys.argv[1], around=(9.0, 46.95), radius_m=35000.0); "
        "status = open('/proc/self/status').read(); "
        "print(t.elevation_m.size, int(status.split('VmHWM:')[1].split()[0]) // 1024)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(path)],
        capture_output=True,
        text=True,
        check=True,
    )
    nodes, peak_mb = map(int, done.stdout.split())
    assert nodes > 21_000_000
    assert peak_mb < MEMORY_LIMIT_MB


# --- where it came from


def test_record_holds_the_checksum_of_each_file(write_raster, slope) -> None:
    import hashlib

    path = write_raster("a.tif", slope)
    (source,) = open_terrain(path).sources
    assert source.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert source.path == str(path)
    assert source.crs == "EPSG:32632"


def test_zip_and_folder_of_tiles_are_taken_whole(
    write_raster, slope, tmp_path: Path
) -> None:
    left = write_raster("tiles/left.tif", slope)
    right = write_raster(
        "tiles/deep/right.tif",
        slope + 50.0,
        transform=north_up(EAST_M + 1500.0, NORTH_M, 30.0),
    )
    (tmp_path / "tiles" / "readme.txt").write_text("not a raster")
    packed = tmp_path / "tiles.zip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.write(left, "some folder/left.tif")
        archive.write(right, "right.tif")
        archive.write(tmp_path / "tiles" / "readme.txt", "readme.txt")
    folder, zipped = open_terrain(tmp_path / "tiles"), open_terrain(packed)
    np.testing.assert_array_equal(folder.elevation_m, zipped.elevation_m)
    assert folder.elevation_m.shape == (40, 100)
    assert "the checksum is of the zip" in zipped.sources[0].notes[0]
    assert zipped.sources[0].sha256 == zipped.sources[1].sha256


def test_files_away_from_the_ground_are_left_out_and_counted(
    write_raster, slope, tmp_path: Path
) -> None:
    near = write_raster("near.tif", slope)
    # A finer grid elsewhere, and one on a datum that could not be reached.
    write_raster("finer.tif", slope, transform=north_up(700_000.0, NORTH_M, 1.0))
    write_raster(
        "old.tif",
        slope,
        crs="EPSG:26711",
        transform=north_up(400_000.0, 3_800_000.0, 10.0),
    )
    lon, lat = node_lonlat(open_terrain(near))
    terrain = open_terrain(tmp_path, around=(lon[20, 25], lat[20, 25]), radius_m=300.0)
    assert [Path(s.path).name for s in terrain.sources] == ["near.tif"]
    assert terrain.frame.crs == "EPSG:32632"
    assert "2 other files lie away from the ground asked for" in all_notes(terrain)


def test_mosaic_file_and_its_tiles_in_one_folder_are_read_once(
    write_raster, slope, tmp_path: Path
) -> None:
    write_raster("tile.tif", slope)
    (tmp_path / "all.vrt").write_text(
        f"""<VRTDataset rasterXSize="50" rasterYSize="40">
        <SRS>EPSG:32632</SRS>
        <GeoTransform>{EAST_M}, 30, 0, {NORTH_M}, 0, -30</GeoTransform>
        <VRTRasterBand dataType="Float32" band="1"><SimpleSource>
        <SourceFilename relativeToVRT="1">tile.tif</SourceFilename>
        <SourceBand>1</SourceBand></SimpleSource></VRTRasterBand></VRTDataset>"""
    )
    terrain = open_terrain(tmp_path)
    assert [Path(s.path).name for s in terrain.sources] == ["all.vrt"]
    assert "gathers 1 other files" in all_notes(terrain)
    np.testing.assert_array_equal(terrain.elevation_m, slope[::-1])


def test_terrain_open_is_open_terrain(write_raster, slope) -> None:
    path = write_raster("a.tif", slope)
    terrain = Terrain.open(path, surface="top", refraction=0.2)
    np.testing.assert_array_equal(terrain.elevation_m, slope[::-1])
    assert (terrain.surface, terrain.refraction) == ("top", 0.2)


def test_progress_hears_of_every_file(write_raster, slope) -> None:
    class Listener:
        def __init__(self) -> None:
            self.stages: list[tuple[str, int | None]] = []
            self.steps = 0

        def stage(self, name: str, total: int | None = None) -> None:
            self.stages.append((name, total))

        def advance(self, steps: int = 1) -> None:
            self.steps += steps

    listener = Listener()
    open_terrain(write_raster("a.tif", slope), progress=listener)
    assert listener.stages[0] == ("looking at elevation files", 1)
    assert listener.steps >= 2
