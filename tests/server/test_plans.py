"""A plan that says where it lies is taken in, and laid on the map there."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
import rasterio
from PIL import Image

from wherestood.daybook.plan_files import take_plan
from wherestood.errors import InputError
from wherestood.progress import SILENT
from wherestood.server.desk import Desk
from wherestood.server.jobs.take_files import take_plans

#: The plan is laid by bilinear interpolation, and its cells are 5 m.
TWO_CELLS_M = 10.0
TILE_PX = 256


def plan_file(path: Path, valley: Any) -> Path:
    """Write a plan of 1 km, white left of its middle and dark right of it."""
    west_m = valley.WEST_M + valley.NODES * valley.CELL_M / 2.0 - 500.0
    north_m = valley.NORTH_M - valley.NODES * valley.CELL_M / 2.0 + 500.0
    drawn = np.full((200, 200), 240, dtype=np.uint8)
    drawn[:, 100:] = 40
    with rasterio.open(
        path, "w", driver="GTiff", width=200, height=200, count=1, dtype="uint8",
        crs=valley.CRS, transform=rasterio.Affine(5, 0, west_m, 0, -5, north_m),
    ) as target:  # fmt: skip
        target.write(drawn, 1)
    return path


def test_plan_lies_on_the_map_where_its_file_says(
    client: httpx.Client, desk: Desk, plate_id: str, valley: Any, tmp_path: Path
) -> None:
    assert desk.book is not None
    coming = tmp_path / "coming"
    coming.mkdir()
    plan_file(coming / "old survey.tif", valley)
    asked = {"upload": str(coming), "person": "Ada Moss"}
    [plan_id] = take_plans(asked, str(desk.book.folder), SILENT).plan_ids
    plan = client.get(f"/api/items/plans/{plan_id}").json()
    assert plan["title"] == "old survey"
    assert len(plan["pins"]) == 4
    ground = client.get(f"/api/plates/{plate_id}/ground").json()
    level = len(ground["resolutions_m"]) - 1
    step_m = ground["resolutions_m"][level]
    points = [
        list(valley.lonlat(dx - valley.CELL_M / 2, valley.CELL_M / 2))
        for dx in (-200.0, 200.0, 0.0)
    ]
    path = f"/api/ground/{ground['ground']}"
    asking = {"to": "grid", "points": points}
    told = client.post(f"{path}/transform", json=asking).json()

    def tone(east: float, north: float) -> tuple[int, int]:
        across = (east - ground["extent_m"][0]) / step_m
        down = (ground["extent_m"][3] - north) / step_m
        column, row = int(across // TILE_PX), int(down // TILE_PX)
        answer = client.get(f"{path}/plans/{plan_id}/{level}/{column}/{row}.png")
        assert answer.status_code == 200, answer.text
        pixels = np.asarray(Image.open(io.BytesIO(answer.content)))
        pixel = pixels[int(down) - row * TILE_PX, int(across) - column * TILE_PX]
        return int(pixel[0]), int(pixel[3])

    (left, right, middle) = told["points"]
    assert tone(*left) == (240, 255)
    assert tone(*right) == (40, 255)
    assert tone(middle[0] - TWO_CELLS_M, middle[1]) == (240, 255)
    assert tone(middle[0] + TWO_CELLS_M, middle[1]) == (40, 255)
    assert tone(middle[0] + 1500.0, middle[1])[1] == 0
    client.post("/api/undo")
    assert client.get("/api/items/plans").json()["total"] == 0


def test_plan_that_does_not_say_where_it_lies_is_refused(
    desk: Desk, tmp_path: Path
) -> None:
    assert desk.book is not None
    nowhere = tmp_path / "p.tif"
    Image.new("L", (20, 20), 200).save(nowhere)
    with pytest.raises(InputError, match="does not say where it lies") as refused:
        take_plan(desk.book, nowhere, "Ada")
    assert "GeoTIFF" in str(refused.value.remedy)
    (tmp_path / "words.tif").write_text("no raster", encoding="utf-8")
    with pytest.raises(InputError, match="cannot be read"):
        take_plan(desk.book, tmp_path / "words.tif", "Ada")
    assert not list((desk.book.folder / "terrain").rglob("p.tif"))


def test_plan_is_taken_in_once(desk: Desk, valley: Any, tmp_path: Path) -> None:
    assert desk.book is not None
    path = plan_file(tmp_path / "p.tif", valley)
    first = take_plan(desk.book, path, "Ada", title="Survey of 1871")
    assert (desk.book.folder / "terrain" / "old plans" / "p.tif").is_file()
    with pytest.raises(InputError, match=f"as {first.key}"):
        take_plan(desk.book, path, "Ada")
