"""Check that elevation models are taken whole, and their steps measured."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyproj
import pytest
import rasterio
from rasterio import Affine
from sqlalchemy import select

from wherestood.daybook import Daybook
from wherestood.daybook.handover import merge, merge_in_words
from wherestood.daybook.originals import verify
from wherestood.daybook.replay import rebuild_into
from wherestood.daybook.tables import Plate, TerrainLayer
from wherestood.daybook.terrain_layers import LayerDetails, paths_of, take_terrain
from wherestood.errors import InputError, TerrainError
from wherestood.terrain.read import open_terrain

NewDaybook = Callable[[], Daybook]
ONE_CENTIMETRE = 0.01
pytestmark = pytest.mark.parametrize("new_daybook", ["sqlite"], indirect=True)


def tile(
    path: Path, column: int = 0, raised_m: float = 0.0, cell_m: float = 30.0
) -> Path:
    """Write an invented tile of 1.8 km: a plane that rises east and south."""
    count = round(1800 / cell_m)
    rows, columns = np.mgrid[0:count, 0:count]
    east = 400_000.0 + 1800.0 * column
    x, y = east + (columns + 0.5) * cell_m, (rows + 0.5) * cell_m
    heights = 500.0 + (x - 400_000.0) / 30.0 + y / 15.0 + raised_m
    path.parent.mkdir(parents=True, exist_ok=True)
    with rasterio.open(
        path, "w", driver="GTiff", width=count, height=count, count=1,
        dtype="float32", crs="EPSG:32632",
        transform=Affine(cell_m, 0.0, east, 0.0, -cell_m, 5_200_000.0),
    ) as dataset:  # fmt: skip
        dataset.write(heights.astype(np.float32), 1)
    return path


def layer(daybook: Daybook, key: str) -> TerrainLayer:
    with daybook.reading() as session:
        wanted = select(TerrainLayer).where(TerrainLayer.key == key)
        return session.scalars(wanted).one()


def test_a_layer_comes_in_with_where_it_came_from(
    daybook: Daybook, tmp_path: Path
) -> None:
    details = LayerDetails(
        title="Valley model",
        provenance="flown 2019, invented",
        licence="CC BY 4.0",
        surface="ground",
        vertical_datum="local height",
    )
    taken = take_terrain(daybook, tile(tmp_path / "v.tif"), "Ada", details=details)
    row = layer(daybook, taken.key)
    assert (row.title, row.licence, row.surface) == (
        "Valley model",
        "CC BY 4.0",
        "ground",
    )
    assert row.vertical_datum == "local height"
    assert row.crs == "EPSG:32632"
    assert row.cell_m == pytest.approx(30.0, rel=0.001)
    to_wgs84 = pyproj.Transformer.from_crs("EPSG:32632", "EPSG:4326", always_xy=True)
    corner = to_wgs84.transform(400_000.0, 5_200_000.0)
    assert (row.west_deg, row.north_deg) == pytest.approx(corner, abs=0.0005)
    assert taken.steps == ()
    copy = daybook.path(row.files[0]["file"])  # type: ignore[index]
    assert copy.read_bytes() == (tmp_path / "v.tif").read_bytes()
    assert verify(daybook) == []


@pytest.mark.parametrize("packed", [False, True])
def test_a_folder_or_zip_of_tiles_is_taken_whole_and_opens(
    daybook: Daybook, tmp_path: Path, packed: bool
) -> None:
    folder = tmp_path / "tiles"
    for column in (0, 1):
        tile(folder / "deep" / f"t{column}.tif", column)
    (folder / "LICENCE.txt").write_text("CC BY 4.0", encoding="utf-8")
    source = folder
    if packed:
        source = tmp_path / "tiles.zip"
        with zipfile.ZipFile(source, "w") as archive:
            for path in sorted(folder.rglob("*.*")):
                archive.write(path, path.relative_to(folder))
    taken = take_terrain(daybook, source, "Ada")
    assert (taken.rasters, taken.files) == (2, 1 if packed else 3)
    assert verify(daybook) == []
    land = open_terrain(paths_of(daybook, layer(daybook, taken.key)))
    assert land.elevation_m.shape == (60, 120)


def test_the_step_between_layers_is_measured_not_blended(
    daybook: Daybook, tmp_path: Path
) -> None:
    before = tile(tmp_path / "fine.tif", cell_m=30.0)
    content = before.read_bytes()
    take_terrain(daybook, before, "Ada")
    raised = tile(tmp_path / "coarse.tif", raised_m=2.5, cell_m=60.0)
    taken = take_terrain(daybook, raised, "Ada")
    row = layer(daybook, taken.key)
    assert row.overlaps is not None
    assert abs(row.overlaps[0]["stands_m"] - 2.5) < ONE_CENTIMETRE
    assert "coarse stands 2.50 m above fine" in taken.steps[0]
    with daybook.reading() as session:
        kept = [one.files[0]["file"] for one in session.scalars(select(TerrainLayer))]  # type: ignore[index]
    assert content in {daybook.path(file).read_bytes() for file in kept}


def test_the_step_to_a_layer_that_comes_by_a_merge_is_measured_too(
    new_daybook: NewDaybook, tmp_path: Path
) -> None:
    ours, theirs = new_daybook(), new_daybook()
    with ours.writing("Ada") as session:
        session.add(Plate(key="7"))
    rebuild_into(ours, theirs)
    take_terrain(ours, tile(tmp_path / "here" / "dem.tif"), "Ada")
    take_terrain(theirs, tile(tmp_path / "there" / "dem.tif", raised_m=4.0), "Ben")
    merged = merge(ours, theirs, "Ada")
    assert merge(theirs, ours, "Ben").conflicts == ()
    assert merge(ours, theirs, "Ada").steps == ()
    row = layer(ours, "terrain-2")
    assert row.overlaps is not None
    assert abs(abs(row.overlaps[0]["stands_m"]) - 4.0) < ONE_CENTIMETRE
    assert "4.00 m" in merge_in_words(merged).warned[0]
    assert verify(ours) == []


def test_a_finer_layer_that_stands_lower_says_so_by_its_sign(
    daybook: Daybook, tmp_path: Path
) -> None:
    take_terrain(daybook, tile(tmp_path / "coarse.tif", cell_m=60.0), "Ada")
    taken = take_terrain(daybook, tile(tmp_path / "fine.tif", raised_m=-40.0), "Ada")
    row = layer(daybook, taken.key)
    assert row.overlaps is not None
    assert abs(row.overlaps[0]["stands_m"] + 40.0) < ONE_CENTIMETRE
    assert taken.steps[0].startswith("Warning: coarse stands 40.00 m above fine")


def test_layers_that_do_not_meet_have_no_step(daybook: Daybook, tmp_path: Path) -> None:
    take_terrain(daybook, tile(tmp_path / "a.tif"), "Ada")
    assert take_terrain(daybook, tile(tmp_path / "b.tif", 5), "Ada").steps == ()


def test_a_layer_can_stay_where_it_is(daybook: Daybook, tmp_path: Path) -> None:
    path = tile(tmp_path / "a.tif")
    taken = take_terrain(daybook, path, "Ada", leave=True)
    assert paths_of(daybook, layer(daybook, taken.key)) == [path]
    assert list((daybook.folder / "terrain").iterdir()) == []
    tile(path, raised_m=1.0)
    assert [finding.trouble for finding in verify(daybook)] == ["changed"]


def test_the_same_model_again_is_refused(daybook: Daybook, tmp_path: Path) -> None:
    path = tile(tmp_path / "a.tif")
    take_terrain(daybook, path, "Ada")
    with pytest.raises(InputError, match="already, as terrain-1"):
        take_terrain(daybook, path, "Ada")


def test_a_lost_model_is_put_back_by_taking_it_in_again(
    daybook: Daybook, tmp_path: Path
) -> None:
    take_terrain(daybook, tile(tmp_path / "a.tif"), "Ada")
    copy = daybook.path(layer(daybook, "terrain-1").files[0]["file"])  # type: ignore[index]
    copy.unlink()
    assert [one.trouble for one in verify(daybook)] == ["missing"]
    with pytest.raises(InputError, match="gone or damaged, and put back now"):
        take_terrain(daybook, tmp_path / "a.tif", "Ada")
    assert copy.read_bytes() == (tmp_path / "a.tif").read_bytes()
    assert verify(daybook) == []


@pytest.mark.parametrize("first", ["tile", "zip"])
def test_the_same_heights_in_a_zip_or_out_of_it_are_refused(
    daybook: Daybook, tmp_path: Path, first: str
) -> None:
    loose = tile(tmp_path / "a.tif")
    packed = tmp_path / "tiles.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        archive.write(loose, "deep/a.tif")
    models = [loose, packed] if first == "tile" else [packed, loose]
    take_terrain(daybook, models[0], "Ada")
    with pytest.raises(InputError, match="among those of terrain-1, byte for byte"):
        take_terrain(daybook, models[1], "Ada")


def test_some_of_the_same_heights_are_said(daybook: Daybook, tmp_path: Path) -> None:
    take_terrain(daybook, tile(tmp_path / "a.tif"), "Ada")
    packed = tmp_path / "tiles.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        archive.write(tmp_path / "a.tif", "a.tif")
        archive.write(tile(tmp_path / "b.tif", 1), "b.tif")
    taken = take_terrain(daybook, packed, "Ada")
    assert any("1 of its 2 rasters are in terrain-1" in note for note in taken.notes)


def test_a_bad_tile_stops_it_all_and_nothing_is_taken(
    daybook: Daybook, tmp_path: Path
) -> None:
    tile(tmp_path / "tiles" / "good.tif")
    (tmp_path / "tiles" / "bad.tif").write_bytes(b"II*\x00")
    with pytest.raises(TerrainError, match=r"bad\.tif"):
        take_terrain(daybook, tmp_path / "tiles", "Ada")
    with daybook.reading() as session:
        assert session.scalars(select(TerrainLayer)).all() == []
    assert list((daybook.folder / "terrain").rglob("*.tif")) == []


def test_a_zip_that_climbs_out_is_refused(daybook: Daybook, tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.write(tile(tmp_path / "t.tif"), "../t.tif")
    with pytest.raises(TerrainError, match="unsafe file name"):
        take_terrain(daybook, path, "Ada")
