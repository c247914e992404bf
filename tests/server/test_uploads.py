"""Files stream in, no larger than allowed, and are known by their content."""

from __future__ import annotations

import asyncio
import json
import os
import socket
import subprocess
import sys
import time
import zipfile
from collections.abc import AsyncIterator, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
import rasterio

from wherestood.errors import TerrainError
from wherestood.server.desk import Desk
from wherestood.server.troubles import TooLargeError
from wherestood.server.uploads import Uploads
from wherestood.terrain.intake import list_elevation_files

LONGEST_S = 90.0


def send(client: httpx.Client, *files: tuple[str, bytes]) -> str:
    upload = str(client.post("/api/uploads").json()["upload_id"])
    for name, content in files:
        answer = client.post(
            f"/api/uploads/{upload}/files", params={"name": name}, content=content
        )
        assert answer.status_code == 200, answer.text
    return upload


def over(client: httpx.Client, job: dict[str, Any]) -> dict[str, Any]:
    """Return a task once it is over."""
    until = time.monotonic() + LONGEST_S
    while job["state"] in ("waiting", "running"):
        assert time.monotonic() < until, job
        job = client.get(f"/api/jobs/{job['id']}").json()
        time.sleep(0.05)
    return job


def test_scan_is_taken_in_and_ready_to_be_looked_at(
    client: httpx.Client, folder: Path, valley: Any, tmp_path: Path
) -> None:
    pixels = valley.picture()[:, ::-1]
    path = valley.write_scan(tmp_path / "other.png", pixels)
    upload = send(client, ("Box 3/lake.jpg", path.read_bytes()))
    job = client.post(f"/api/uploads/{upload}/scans", json={}).json()
    done = over(client, job)
    assert done["state"] == "done", done
    card = next(
        c for c in client.get("/api/plates").json()["cards"] if c["key"] == "lake"
    )
    assert card["scan_id"] == done["result"]["scan_ids"][0]
    assert (card["width_px"], card["height_px"]) == (640, 480)
    assert list((folder / "out" / "tiles").glob("*.tif"))
    assert not (folder / "out" / "coming" / upload).exists()


def test_what_is_no_picture_is_refused_whatever_its_name(
    client: httpx.Client,
) -> None:
    upload = send(client, ("plate.tif", b"GIF of nothing at all" * 50))
    job = client.post(f"/api/uploads/{upload}/scans", json={}).json()
    done = over(client, job)
    assert done["state"] == "failed"
    assert "plate.tif" in done["trouble"]["problem"]
    assert client.get("/api/plates").json()["total"] == 1


def test_elevation_model_is_refused_as_a_photograph_and_shown_its_way(
    client: httpx.Client, valley: Any, tmp_path: Path
) -> None:
    terrain = valley.write_terrain(tmp_path / "hill.tif")
    upload = send(client, ("hill.tif", terrain.read_bytes()))
    job = client.post(f"/api/uploads/{upload}/scans", json={}).json()
    done = over(client, job)
    assert done["state"] == "failed"
    assert "heights" in done["trouble"]["problem"]
    assert "map" in done["trouble"]["remedy"]
    assert client.get("/api/plates").json()["total"] == 1


def test_what_is_no_terrain_is_called_as_it_was_sent(
    client: httpx.Client, valley: Any, tmp_path: Path
) -> None:
    picture = valley.write_scan(tmp_path / "mill.png").read_bytes()
    upload = send(client, ("mill.png", picture))
    done = over(client, client.post(f"/api/uploads/{upload}/terrain", json={}).json())
    assert done["state"] == "failed"
    # Not by the folder that it waits in.
    assert done["trouble"]["problem"].startswith("mill.png does not say")


@pytest.fixture
def small_uploads(desk: Desk) -> Iterator[None]:
    """Allow no more than 1000 bytes."""
    desk.uploads = replace(desk.uploads, largest_bytes=1000)
    return


@pytest.mark.usefixtures("small_uploads")
def test_too_many_bytes_are_refused_and_nothing_is_left(
    client: httpx.Client, folder: Path
) -> None:
    upload = client.post("/api/uploads").json()["upload_id"]

    def stream() -> Iterator[bytes]:
        for _ in range(30):
            yield b"x" * 100

    path = f"/api/uploads/{upload}/files"
    answer = client.post(path, params={"name": "a.tif"}, content=stream())
    assert answer.status_code == 413
    said = client.post(path, params={"name": "b.tif"}, content=b"x" * 1001)
    assert said.status_code == 413
    assert [p for p in (folder / "out" / "coming").rglob("*") if p.is_file()] == []


@pytest.mark.parametrize(
    "name",
    ["../../evil.tif", "/etc/cron.d/evil.tif", "..\\..\\evil.tif", "a/../../b.tif"],
)
def test_name_leads_out_of_no_folder(
    client: httpx.Client, folder: Path, name: str
) -> None:
    upload = send(client, (name, b"abc"))
    place = folder / "out" / "coming" / upload
    files = list(folder.parent.rglob("*evil.tif"))
    files += list(place.rglob("b.tif"))
    assert files
    assert all(path.resolve().is_relative_to(place.resolve()) for path in files)


def test_name_of_nothing_is_refused(client: httpx.Client) -> None:
    upload = client.post("/api/uploads").json()["upload_id"]
    path = f"/api/uploads/{upload}/files"
    assert client.post(path, params={"name": ".."}, content=b"a").status_code == 415
    assert client.post(path, params={"name": "a\x01"}, content=b"a").status_code == 400
    assert client.post(path, params={"name": "a"}, content=b"").status_code == 415
    unknown = client.post("/api/uploads/../files", params={"name": "a"}, content=b"a")
    assert unknown.status_code in (404, 405)


def test_terrain_comes_as_a_folder_or_a_zip(
    client: httpx.Client, valley: Any, tmp_path: Path
) -> None:
    tile = valley.write_terrain(tmp_path / "tile.tif")
    # Another survey of the same valley: the very same heights would be refused.
    with rasterio.open(tile, "r+") as survey:
        survey.write(survey.read(1) + np.float32(2.0), 1)
    packed = tmp_path / "more.zip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as target:
        target.write(tile, "more/other.tif")
        target.writestr("more/readme.txt", "invented")
    upload = send(client, ("more.zip", packed.read_bytes()))
    done = over(
        client,
        client.post(
            f"/api/uploads/{upload}/terrain", json={"surface": "ground"}
        ).json(),
    )
    assert done["state"] == "done", done
    layers = client.get("/api/items/terrain_layers").json()
    assert layers["total"] == 2
    assert any("step" in note or "stands" in note for note in done["result"]["notes"])


def test_zip_that_swells_is_refused(client: httpx.Client, tmp_path: Path) -> None:
    packed = tmp_path / "bomb.zip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as target:
        target.writestr("ground.tif", b"\0" * 30_000_000)
    upload = send(client, ("bomb.zip", packed.read_bytes()))
    done = over(client, client.post(f"/api/uploads/{upload}/terrain", json={}).json())
    assert done["state"] == "failed"
    assert "unpacks" in done["trouble"]["problem"]


def test_features_come_and_go_as_geojson(client: httpx.Client) -> None:
    given = {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"name": "Mill chimney"},
                "geometry": {"type": "Point", "coordinates": [7.7, 46.1]},
            }
        ],
    }
    import json

    upload = send(client, ("things.geojson", json.dumps(given).encode()))
    taken = client.post(f"/api/uploads/{upload}/features").json()
    assert len(taken["added"]) == 1, taken
    told = client.get("/api/features.geojson").json()
    names = {n for f in told["features"] for n in f["properties"]["names"]}
    assert names == {"Round Hill", "Mill chimney"}


def test_what_nobody_came_back_for_is_taken_away_after_a_day(tmp_path: Path) -> None:
    uploads = Uploads(tmp_path)
    old, new = uploads.begin(), uploads.begin()
    (tmp_path / "kept").mkdir()
    now_s = (tmp_path / new).stat().st_mtime
    os.utime(tmp_path / old, (now_s - 90_000.0, now_s - 90_000.0))
    uploads.sweep(now_s)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([new, "kept"])


def test_elevation_list_asks_no_other_host_however_it_is_called(tmp_path: Path) -> None:
    path = tmp_path / "heights.tif"
    for host in ("/vsicurl/http://127.0.0.1:9/a.tif", "/vsi&#99;url/x"):
        path.write_text(f"<VRTDataset><SourceFilename>{host}</SourceFilename></VRT>")
        with pytest.raises(TerrainError, match="data on the network"):
            list_elevation_files([path])
    with zipfile.ZipFile(tmp_path / "heights.zip", "w") as archive:
        archive.write(path, "heights.tif")
    with pytest.raises(TerrainError, match="data on the network"):
        list_elevation_files([tmp_path / "heights.zip"])


def test_server_reads_rasters_without_asking_any_host() -> None:
    asked: list[bytes] = []
    with socket.create_server(("127.0.0.1", 0)) as listening:
        listening.settimeout(0.2)
        port = listening.getsockname()[1]
        program = (
            "import wherestood.server, rasterio\n"
            f"try: rasterio.open('/vsicurl/http://127.0.0.1:{port}/a.tif')\n"
            "except rasterio.errors.RasterioIOError: print('refused')"
        )
        done = subprocess.run(
            [sys.executable, "-c", program], capture_output=True, text=True, check=True
        )
        with pytest.raises(TimeoutError):
            asked.append(listening.accept()[0].recv(100))
    assert done.stdout.strip() == "refused"
    assert not asked


def test_file_sent_once_more_holds_up_none_of_the_others(
    client: httpx.Client, valley: Any, tmp_path: Path
) -> None:
    here = valley.write_scan(tmp_path / "here.png", valley.picture()[:, ::-1])
    other = valley.write_scan(tmp_path / "other.png", valley.picture()[::-1])
    upload = send(client, ("a.png", here.read_bytes()))
    over(client, client.post(f"/api/uploads/{upload}/scans", json={}).json())
    upload = send(client, ("a.png", here.read_bytes()), ("b.png", other.read_bytes()))
    done = over(client, client.post(f"/api/uploads/{upload}/scans", json={}).json())
    assert done["state"] == "done", done
    assert "a.png is there already." in done["result"]["notes"]
    assert client.get("/api/plates").json()["total"] == 3


def test_daybook_for_reading_begins_no_task(
    client: httpx.Client, desk: Desk, plate_id: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert desk.book is not None
    monkeypatch.setattr(type(desk.book), "read_only", property(lambda _book: True))
    for path in (f"plates/{plate_id}/trace", f"plates/{plate_id}/fixes", "uploads"):
        refused = client.post(f"/api/{path}", json={})
        assert refused.status_code == 400
        assert "reading alone" in refused.json()["problem"]
    assert not client.get("/api/jobs").json()


def test_files_sent_together_share_the_room_of_their_set(tmp_path: Path) -> None:
    uploads = Uploads(tmp_path, largest_bytes=1000)
    upload = uploads.begin()

    async def slow() -> AsyncIterator[bytes]:
        for _ in range(6):
            yield b"x" * 100
            await asyncio.sleep(0)

    async def both() -> list[Any]:
        taking = (uploads.take(upload, name, slow()) for name in ("a", "b"))
        return await asyncio.gather(*taking, return_exceptions=True)

    sizes = asyncio.run(both())
    assert sorted(type(one).__name__ for one in sizes) == ["TooLargeError", "int"]
    assert sum(path.stat().st_size for path in (tmp_path / upload).iterdir()) == 600
    # What came before a restart counts as well.
    again = Uploads(tmp_path, largest_bytes=1000)
    with pytest.raises(TooLargeError):
        asyncio.run(again.take(upload, "c", slow()))


def test_each_file_of_features_is_taken_in(client: httpx.Client) -> None:
    def feature(name: str, lon: float) -> bytes:
        point = {"type": "Point", "coordinates": [lon, 46.0]}
        one = {"type": "Feature", "geometry": point, "properties": {"name": name}}
        return json.dumps({"type": "FeatureCollection", "features": [one]}).encode()

    upload = send(
        client,
        ("a.geojson", feature("Mill", 7.1)),
        ("b.geojson", feature("Weir", 7.2)),
    )
    told = client.post(f"/api/uploads/{upload}/features").json()
    assert len(told["added"]) == 2
