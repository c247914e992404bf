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

from wherestood.daybook.change_items import add_item
from wherestood.daybook.plan_files import take_plan
from wherestood.daybook.tables import Plan
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

    # From its south edge a camera that looks north has it white left, dark right.
    seen = {
        "east_m": middle[0],
        "north_m": middle[1] - 400.0,
        "camera": {
            "bearing_deg": 0.0,
            "tilt_deg": -5.0,
            "principal_distance_px": 560.0,
        },
    }
    drawn = client.post(
        f"/api/plates/{plate_id}/rendering",
        params={"px": 320, "plan_id": plan_id, "haze": False, "ridge_lines": False},
        json=seen,
    )
    view = np.asarray(Image.open(io.BytesIO(drawn.content)).convert("L")).astype(int)
    # 50 to 150 m before the camera, where its cells of 5 m are narrow.
    below = view[98:102]
    assert below[:, 100:150].min() > below[:, 170:220].max() + 100
    unknown = f"/api/plates/{plate_id}/rendering?plan_id={'0' * 32}"
    assert client.post(unknown, json=seen).status_code == 404
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


def test_plan_that_was_pinned_lies_on_the_map_too(
    client: httpx.Client, desk: Desk, plate_id: str, valley: Any, tmp_path: Path
) -> None:
    """The same sheet without its place, pinned by hand, lies where its file said."""
    assert desk.book is not None
    sure = plan_file(tmp_path / "sure.tif", valley)
    with rasterio.open(sure) as source:
        drawn, corners = source.read(1), source.transform
    bare = tmp_path / "bare.png"
    Image.fromarray(drawn).save(bare)
    taken = take_plan(desk.book, bare, "Ada", must_lie=False)
    ground = client.get(f"/api/plates/{plate_id}/ground").json()
    path = f"/api/ground/{ground['ground']}"
    level = len(ground["resolutions_m"]) - 1
    assert client.get(f"/api/plans/{taken.id}/pinning").status_code == 400
    sheet = Image.open(
        io.BytesIO(client.get(f"/api/plans/{taken.id}/sheet.png").content)
    )
    assert sheet.size == (200, 200)
    unpinned = client.get(f"{path}/plans/{taken.id}/{level}/0/0.png")
    assert unpinned.status_code == 400
    assert "not pinned" in unpinned.json()["problem"]
    at = [(0, 0), (200, 0), (200, 200), (0, 200), (90, 110)]
    middle_m = corners @ (100, 100)
    pins = [
        dict(zip(
            ("x_px", "y_px", "lon_deg", "lat_deg"),
            (*one, *valley.lonlat(*(np.subtract(corners @ one, middle_m) - [
                valley.CELL_M / 2, -valley.CELL_M / 2]))),
            strict=True,
        ))
        for one in at
    ]  # fmt: skip
    asked = {"pins": pins, "dry_run": True}
    told = client.put(f"/api/plans/{taken.id}/pinning", json=asked).json()
    assert told["fit"] == "projective"
    assert max(pin["left_over_m"] for pin in told["pins"]) < TWO_CELLS_M
    assert client.get(f"/api/items/plans/{taken.id}").json()["pins"] is None
    client.put(f"/api/plans/{taken.id}/pinning", json={"pins": pins})
    now = client.get(f"/api/plans/{taken.id}/pinning").json()
    assert now["pins"] == told["pins"]
    step_m = ground["resolutions_m"][level]
    points = [
        list(valley.lonlat(dx - valley.CELL_M / 2, valley.CELL_M / 2))
        for dx in (-200.0, 200.0, 2000.0)
    ]
    asking = {"to": "grid", "points": points}
    told = client.post(f"{path}/transform", json=asking).json()
    seen = []
    for east, north in told["points"]:
        across = (east - ground["extent_m"][0]) / step_m
        down = (ground["extent_m"][3] - north) / step_m
        column, row = int(across // TILE_PX), int(down // TILE_PX)
        answer = client.get(f"{path}/plans/{taken.id}/{level}/{column}/{row}.png")
        assert answer.status_code == 200, answer.text
        pixels = np.asarray(Image.open(io.BytesIO(answer.content)))
        pixel = pixels[int(down) - row * TILE_PX, int(across) - column * TILE_PX]
        seen.append((int(pixel[0]), int(pixel[3])))
    assert seen[:2] == [(240, 255), (40, 255)]
    assert seen[2][1] == 0


def test_plan_in_the_wrong_hemisphere_is_refused(desk: Desk, tmp_path: Path) -> None:
    assert desk.book is not None
    fields = {"geometry": {"type": "Point", "coordinates": [8.5, 46.1]}}
    add_item(desk.book, "features", fields, "Ada")
    for name, west, north in (("south.tif", 8.45, -46.05), ("turned.tif", 46.05, 8.55)):
        with rasterio.open(
            tmp_path / name, "w", driver="GTiff", width=50, height=50, count=1,
            dtype="uint8", crs="EPSG:4326",
            transform=rasterio.Affine(0.0001, 0, west, 0, -0.0001, north),
        ) as target:  # fmt: skip
            target.write(np.full((50, 50), len(name), dtype=np.uint8), 1)
        with pytest.raises(InputError, match=r"hemisphere|exchanged") as refused:
            take_plan(desk.book, tmp_path / name, "Ada")
        assert "--no-place" in refused.value.remedy
        kept = take_plan(desk.book, tmp_path / name, "Ada", place=False, must_lie=False)
        assert kept.box_deg is None


def test_plan_is_taken_in_once(desk: Desk, valley: Any, tmp_path: Path) -> None:
    assert desk.book is not None
    path = plan_file(tmp_path / "p.tif", valley)
    first = take_plan(desk.book, path, "Ada", title="Survey of 1871")
    assert (desk.book.folder / "terrain" / "old plans" / "p.tif").is_file()
    with pytest.raises(InputError, match=f"as {first.key}"):
        take_plan(desk.book, path, "Ada")


def test_plan_in_the_daybook_that_lists_other_files_reads_none_of_them(
    client: httpx.Client, desk: Desk, plate_id: str, valley: Any, tmp_path: Path
) -> None:
    assert desk.book is not None
    private = plan_file(tmp_path / "private.tif", valley)
    taken = take_plan(
        desk.book, plan_file(tmp_path / "plan.tif", valley), valley.PERSON
    )
    # Such a row may come with somebody else's copy of a daybook.
    with desk.book.reading() as session:
        file = desk.book.folder / str(session.get_one(Plan, taken.id).file)
    file.chmod(0o600)
    file.write_text(
        '<VRTDataset rasterXSize="200" rasterYSize="200">'
        '<VRTRasterBand dataType="Byte" band="1"><SimpleSource>'
        f'<SourceFilename relativeToVRT="0">{private}</SourceFilename>'
        "<SourceBand>1</SourceBand></SimpleSource></VRTRasterBand></VRTDataset>"
    )
    ground = client.get(f"/api/plates/{plate_id}/ground").json()["ground"]
    answer = client.get(f"/api/ground/{ground}/plans/{taken.id}/0/0/0.png")
    assert answer.status_code == 400
    assert "cannot be read" in answer.json()["problem"]
    assert not list((desk.book.folder / "out" / "plans").glob("*"))


@pytest.fixture
def planned_desk(planned: Path, desk: Desk) -> Desk:
    """Return the desk with the daybook open whose fix looks over a plan's ground."""
    desk.open(planned)
    return desk


def test_fence_of_a_pinned_picture_shows_on_the_plate(
    client: httpx.Client,
    planned_desk: Desk,
    valley: Any,
    invented_plan: Any,
    tmp_path: Path,
) -> None:
    book = planned_desk.book
    assert book is not None
    picture = invented_plan.write_picture(tmp_path / "parish plan.jpg")
    coming = tmp_path / "coming"
    coming.mkdir()
    picture.rename(coming / picture.name)
    asked = {"upload": str(coming), "person": "Ada Moss", "must_lie": False}
    [plan_id] = take_plans(asked, str(book.folder), SILENT).plan_ids
    path = f"/api/plans/{plan_id}"
    info = client.get(f"{path}/image/info.json").json()
    size = (invented_plan.WIDTH_PX, invented_plan.HEIGHT_PX)
    assert (info["width"], info["height"]) == size
    small = client.get(f"{path}/image/full/250,/0/default.jpg")
    assert Image.open(io.BytesIO(small.content)).size == (250, 190)
    middle = invented_plan.picture_px(20.0, 320.0)
    assert (
        client.post(f"{path}/places", json={"points_px": [middle]}).status_code == 400
    )
    pins = [
        dict(zip(
            ("x_px", "y_px", "lon_deg", "lat_deg"),
            (*invented_plan.picture_px(*at), *valley.lonlat(*at)), strict=True,
        ))
        for at in invented_plan.POSTS_M.values()
    ]  # fmt: skip
    put = client.put(f"{path}/pinning", json={"pins": pins}).json()
    assert put["fit"] == "projective"
    there = {"points_px": [middle, invented_plan.picture_px(-340.0, 550.0)]}
    known, outer = client.post(f"{path}/places", json=there).json()["places"]
    lon, lat = valley.lonlat(20.0, 320.0)
    assert (known["lon_deg"], known["lat_deg"]) == pytest.approx((lon, lat), abs=1e-6)
    assert 0.0 < known["within90_m"] < outer["within90_m"]
    fence = {
        "what": "fence", "shape": "line", "drawn": "surveyed",
        "points_px": [invented_plan.picture_px(*at) for at in invented_plan.FENCE_M],
    }  # fmt: skip
    [plate] = client.get("/api/plates").json()["cards"]
    before = client.get(f"/api/plates/{plate['id']}/traced_from_plans").json()
    assert before["things"] == []
    made = client.post(
        f"{path}/traced", json={"things": [fence], "existed_from": "1871"}
    )
    assert made.json()["features"][0]["drawn"] == "surveyed", made.text
    told = client.get(f"/api/plates/{plate['id']}/traced_from_plans").json()
    [shown] = told["things"]
    assert shown["what"] == "fence"
    [piece] = shown["pieces"]
    assert piece["seen"]
    # The camera looks north over the fence: its ends as far off as the angles say.
    ends = np.array([piece["points_px"][0], piece["points_px"][-1]])
    lens_m = invented_plan.LENS_M - valley.PLAIN_M
    expected = [
        (
            valley.WIDTH_PX / 2 + 560.0 * east / north,
            valley.HEIGHT_PX / 2 + 560.0 * lens_m / north,
        )
        for east, north in (invented_plan.FENCE_M[0], invented_plan.FENCE_M[-1])
    ]
    # The fix was made up of single doubts: 3 m of station, 0.2 deg of bearing.
    assert np.abs(ends - expected).max() < 4.0 * piece["sd_px"] + 2.0
    client.post("/api/undo")
    assert (
        client.get(f"/api/plates/{plate['id']}/traced_from_plans").json()["things"]
        == []
    )
