"""Check that elevation which cannot be used is refused with reason and remedy."""

from __future__ import annotations

import zipfile
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio import Affine

from wherestood.errors import TerrainError
from wherestood.terrain import open_terrain


def north_up(west: float, north: float, cell: float) -> Affine:
    return Affine(cell, 0.0, west, 0.0, -cell, north)


def refusal(*args, **kwargs) -> TerrainError:
    """Return the error that opening raises; both of its sentences must be there."""
    with pytest.raises(TerrainError) as caught:
        open_terrain(*args, **kwargs)
    assert caught.value.problem.endswith(".")
    assert caught.value.remedy.endswith(".")
    return caught.value


def test_no_overlap_says_where_both_lie_and_how_far_apart(write_raster, slope) -> None:
    error = refusal(write_raster("a.tif", slope), around=(0.0, 46.94), radius_m=1000.0)
    assert "do not reach the ground asked for" in error.problem
    assert "longitude 7.6860 to 7.7059, latitude 46.9352 to 46.9462" in error.problem
    assert "within 1.0 km of longitude 0.0000, latitude 46.9400" in error.problem
    # 7.686 deg of longitude at 46.94 deg: 7.686 x 111.32 km x cos(46.94) = 584 km.
    assert " 584." in error.problem or " 585." in error.problem
    assert "longitude comes before latitude" in error.remedy


def test_terrain_all_void(write_raster, slope) -> None:
    error = refusal(write_raster("a.tif", slope * 0 - 9999.0, nodata=-9999.0))
    assert error.problem == ("All 2000 heights around the ground asked for are void.")


def test_missing_crs_names_the_file_to_put_beside_it(write_raster, slope) -> None:
    path = write_raster("a.tif", slope, crs=None)
    error = refusal(path)
    assert "a.tif does not say which coordinate system it is in" in error.problem
    assert "a.prj" in error.remedy
    path.with_name("a.prj").write_text("EPSG:32632")
    assert open_terrain(path).frame.crs == "EPSG:32632"


def test_ascii_grid_without_projection_file_needs_one(write_raster, slope) -> None:
    path = write_raster("a.asc", slope, driver="AAIGrid")
    path.with_name("a.prj").unlink()
    assert "does not say which coordinate system" in refusal(path).problem
    path.with_name("a.prj").write_text("EPSG:32632")
    assert open_terrain(path).sources[0].crs == "EPSG:32632"


def test_drawing_coordinates_are_no_place(write_raster, slope) -> None:
    error = refusal(write_raster("a.tif", slope, crs='LOCAL_CS["a",UNIT["metre",1]]'))
    assert "has no known place on the earth" in error.problem


def test_raster_without_a_corner_is_refused(tmp_path: Path, slope) -> None:
    path = tmp_path / "a.tif"
    with pytest.warns(rasterio.errors.NotGeoreferencedWarning):  # noqa: SIM117
        with rasterio.open(
            path,
            "w",
            driver="GTiff",
            width=50,
            height=40,
            count=1,
            dtype="float32",
            crs="EPSG:32632",
        ) as dataset:
            dataset.write(slope, 1)
    assert "does not say where its corner lies" in refusal(path).problem


def test_corner_outside_its_system_is_refused(write_raster, slope) -> None:
    error = refusal(write_raster("a.tif", slope, transform=north_up(4e9, 5e9, 30.0)))
    assert "outside its coordinate system 'WGS 84 / UTM zone 32N'" in error.problem


def test_file_that_is_no_raster(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    path.write_text("heights")
    assert "a.tif is not a raster that can be read" in refusal(path).problem


def test_missing_file(tmp_path: Path) -> None:
    assert "none.tif does not exist" in refusal(tmp_path / "none.tif").problem
    assert refusal([]).problem == "No elevation file was given."


def test_truncated_raster(write_raster) -> None:
    heights = np.random.default_rng(1).normal(500.0, 1.0, (300, 300)).astype("f4")
    path = write_raster("a.tif", heights)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    assert "a.tif breaks off while its heights are read" in refusal(path).problem


def test_picture_of_a_map_is_no_elevation(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=50,
        height=40,
        count=3,
        dtype="uint8",
        crs="EPSG:32632",
        transform=north_up(4e5, 5.2e6, 30.0),
    ) as dataset:
        dataset.write(np.zeros((3, 40, 50), dtype=np.uint8))
    assert "is a picture (3 bands of 8 bits), not heights" in refusal(path).problem


def test_eight_bit_heights_are_doubted(write_raster, slope) -> None:
    path = write_raster("a.tif", (slope / 10.0).astype(np.uint8))
    assert "may be a shaded picture" in " ".join(open_terrain(path).sources[0].notes)


def test_values_that_are_no_heights(write_raster, slope) -> None:
    error = refusal(write_raster("a.tif", slope * 1000.0))
    assert "holds values from 500000 to 627000, which are no heights" in error.problem


def test_datum_not_named_is_not_guessed(write_raster, slope) -> None:
    path = write_raster("a.tif", slope, crs="+proj=utm +zone=32 +ellps=bessel")
    error = refusal(path)
    assert "an unstated datum could be out by 100 to 300 m" in error.problem


def test_unnamed_datum_on_the_wgs84_ellipsoid_is_taken_and_said(
    write_raster, slope
) -> None:
    path = write_raster("a.tif", slope, crs="+proj=utm +zone=32 +ellps=GRS80")
    notes = " ".join(open_terrain(path).sources[0].notes)
    assert "datum not named, only its ellipsoid GRS 1980; taken as WGS 84" in notes


def test_coarse_datum_shift_stops_and_names_the_missing_grid(
    write_raster, slope
) -> None:
    # Without its grid file NAD27 in California is good to 7 m (EPSG:1178).
    transform = north_up(400_000.0, 3_800_000.0, 10.0)
    path = write_raster("a.tif", slope, crs="EPSG:26711", transform=transform)
    error = refusal(path)
    assert "only good to 7 m, and at most 5 m is needed" in error.problem
    assert "us_noaa_conus.tif" in error.remedy


def test_good_enough_datum_shift_is_said(write_raster, slope) -> None:
    transform = north_up(330_000.0, 510_000.0, 50.0)
    path = write_raster("a.tif", slope, crs="EPSG:27700", transform=transform)
    notes = " ".join(open_terrain(path).sources[0].notes)
    assert "datum shift good to 2 m" in notes
    assert "a better one needs uk_os_OSTN15_NTv2_OSGBtoETRS.tif" in notes


def test_empty_folder_and_empty_zip(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    assert "holds no elevation raster" in refusal(tmp_path / "empty").problem
    packed = tmp_path / "a.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("readme.txt", "nothing")
    assert "holds no elevation raster" in refusal(packed).problem


@pytest.mark.parametrize("inside", ["../a.tif", "/etc/a.tif", "x/../../a.tif", "C:/a"])
def test_zip_that_climbs_out_is_refused(tmp_path: Path, inside: str) -> None:
    packed = tmp_path / "a.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr(inside, "x")
    error = refusal(packed)
    assert "unsafe file name" in error.problem
    assert "trust" in error.remedy


def test_damaged_zip(tmp_path: Path) -> None:
    packed = tmp_path / "a.zip"
    packed.write_bytes(b"PK\x03\x04 broken off")
    assert "a.zip is no zip, or a damaged one" in refusal(packed).problem


@pytest.mark.parametrize("target", ["/vsicurl/http://a.invalid/x.tif", "/vsis3/b/x"])
def test_mosaic_file_that_reaches_for_the_network_is_refused(
    tmp_path: Path, target: str
) -> None:
    path = tmp_path / "a.vrt"
    path.write_text(
        f"""<VRTDataset rasterXSize="50" rasterYSize="40"><SRS>EPSG:32632</SRS>
        <GeoTransform>4e5, 30, 0, 5.2e6, 0, -30</GeoTransform>
        <VRTRasterBand dataType="Float32" band="1"><SimpleSource>
        <SourceFilename>{target}</SourceFilename><SourceBand>1</SourceBand>
        </SimpleSource></VRTRasterBand></VRTDataset>"""
    )
    assert "refers to data on the network" in refusal(path).problem


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"around": (8.0, 47.0)}, "A place and a radius go together"),
        ({"radius_m": 100.0}, "A place and a radius go together"),
        ({"around": (8.0, 97.0), "radius_m": 1.0}, "is no place on earth"),
        ({"around": (8.0, 47.0), "radius_m": -1.0}, "must be a length above 0 m"),
        ({"around": (8.0, 47.0), "radius_m": np.nan}, "must be a length above 0 m"),
        ({"around": (8.0, 47.0), "radius_m": 5e5}, "at most 400 km, not 500 km"),
        ({"max_nodes": 4}, "at least 16 nodes, not 4"),
    ],
)
def test_nonsense_asked_for_is_refused(
    write_raster, slope, asked: dict[str, object], words: str
) -> None:
    assert words in refusal(write_raster("a.tif", slope), **asked).problem
