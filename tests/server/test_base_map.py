"""A base map is fetched by the server, from one host, and laid on the ground's grid.

Which tile covers a place follows from OGC 07-057r7, annex E.4, by hand: column
``floor(2^z (lon + 180) / 360)``, row ``floor(2^z (1 - asinh(tan lat) / pi) / 2)``.
"""

from __future__ import annotations

import io
import math
import os
import socket
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
from PIL import Image

from wherestood.errors import InputError
from wherestood.server.base_map.capabilities import read_capabilities
from wherestood.server.base_map.fetched import Fetched
from wherestood.server.base_map.opened import BaseMaps
from wherestood.server.base_map.pyramid import HALF_WORLD_M, xyz_pyramid
from wherestood.server.desk import Desk
from wherestood.server.forms.state import BaseMap

TILE_PX = 256


class Tiles(BaseHTTPRequestHandler):
    """Serve tiles whose colour is their column and row, and a few bad things."""

    asked: list[str]

    def do_GET(self) -> None:
        type(self).asked.append(self.path)
        if self.path.startswith("/away"):
            self.send_response(302)
            self.send_header("Location", "http://localhost:9/elsewhere.png")
            self.end_headers()
            return
        if self.path.startswith("/bad"):
            self._send(b"no picture at all")
            return
        _, _, _, column, row = self.path.split("/")
        y = int(row.removesuffix(".png"))
        colour = (int(column) % 256, y % 256, 77)
        picture = io.BytesIO()
        Image.new("RGB", (TILE_PX, TILE_PX), colour).save(picture, "PNG")
        self._send(picture.getvalue())

    def _send(self, content: bytes) -> None:
        self.send_response(200)
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, *words: Any) -> None:
        """Say nothing."""


@pytest.fixture
def host() -> Iterator[str]:
    """Serve invented tiles on loopback; return the host."""
    Tiles.asked = []
    server = ThreadingHTTPServer(("127.0.0.1", 0), Tiles)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"127.0.0.1:{server.server_address[1]}"
    server.shutdown()
    server.server_close()


def set_to(client: httpx.Client, address: str, kind: str = "xyz") -> None:
    base = {"kind": kind, "address": address}
    done = client.patch("/api/settings", json={"base_map": base})
    assert done.status_code == 200, done.text


def test_tile_of_the_map_shows_the_tiles_that_lie_there(
    client: httpx.Client, plate_id: str, host: str
) -> None:
    set_to(client, f"http://{host}/tiles/{{z}}/{{x}}/{{y}}.png")
    ground = client.get(f"/api/plates/{plate_id}/ground").json()
    level = len(ground["resolutions_m"]) - 2
    path = f"/api/ground/{ground['ground']}/base_map/{level}"
    answer = client.get(f"{path}/2/3.png")
    assert answer.status_code == 200, answer.text
    shown = np.asarray(Image.open(io.BytesIO(answer.content)))
    assert shown.shape == (TILE_PX, TILE_PX, 4)
    assert (shown[..., 3] == 255).all()
    step_m = ground["resolutions_m"][level]
    west_m, _, _, north_m = ground["extent_m"]
    zooms = {int(one.split("/")[2]) for one in Tiles.asked}
    assert len(zooms) == 1
    zoom = zooms.pop()
    for down, across in ((10, 10), (128, 200), (250, 30)):
        east = west_m + (2 * TILE_PX + across + 0.5) * step_m
        north = north_m - (3 * TILE_PX + down + 0.5) * step_m
        asked = {"to": "lonlat", "points": [[east, north]]}
        transform = f"/api/ground/{ground['ground']}/transform"
        [[lon, lat]] = client.post(transform, json=asked).json()["points"]
        column = 2**zoom * (lon + 180.0) / 360.0
        row = 2**zoom * (1.0 - math.asinh(math.tan(math.radians(lat))) / math.pi) / 2.0
        near_seam = min(column % 1.0, -column % 1.0, row % 1.0, -row % 1.0) < 0.01
        if not near_seam:  # there two tiles mix
            assert tuple(shown[down, across, :2]) == (
                math.floor(column) % 256,
                math.floor(row) % 256,
            )
    # The pixels of the base map are as fine as the map's, and not much finer.
    fine_m = 2.0 * HALF_WORLD_M / TILE_PX / 2**zoom * math.cos(math.radians(lat))
    assert step_m / 2.0 < fine_m <= 1.2 * step_m


def test_tiles_are_kept_and_asked_for_once(
    client: httpx.Client, plate_id: str, host: str, folder: Path
) -> None:
    set_to(client, f"http://{host}/tiles/{{z}}/{{x}}/{{y}}.png")
    ground = client.get(f"/api/plates/{plate_id}/ground").json()["ground"]
    for _ in range(2):
        assert client.get(f"/api/ground/{ground}/base_map/1/0/0.png").status_code == 200
    assert len(Tiles.asked) == len(set(Tiles.asked))
    assert list((folder / "out" / "base map").rglob("*"))


@pytest.mark.usefixtures("host")
def test_without_a_base_map_nobody_is_asked(
    client: httpx.Client, plate_id: str
) -> None:
    ground = client.get(f"/api/plates/{plate_id}/ground").json()["ground"]
    assert client.get(f"/api/ground/{ground}/base_map/1/0/0.png").status_code == 404
    assert client.get("/api/base_map").status_code == 404
    assert Tiles.asked == []


@pytest.mark.parametrize("way", ["away", "bad"])
def test_what_leads_elsewhere_or_is_no_picture_is_told(
    client: httpx.Client, plate_id: str, host: str, way: str
) -> None:
    set_to(client, f"http://{host}/{way}/{{z}}/{{x}}/{{y}}.png")
    ground = client.get(f"/api/plates/{plate_id}/ground").json()["ground"]
    answer = client.get(f"/api/ground/{ground}/base_map/1/0/0.png")
    assert answer.status_code == 400
    assert "base map" in answer.json()["problem"]


def test_address_without_places_for_the_tile_is_refused(
    client: httpx.Client, host: str
) -> None:
    set_to(client, f"http://{host}/tiles/one.png")
    answer = client.get("/api/base_map")
    assert answer.status_code == 400
    assert "{z}" in answer.json()["remedy"]


def test_old_tile_serves_when_the_host_is_gone(tmp_path: Path, host: str) -> None:
    fetched = Fetched(tmp_path, host)
    address = f"http://{host}/tiles/3/4/5.png"
    first = fetched.get(address)
    [kept] = [path for path in tmp_path.rglob("*") if path.is_file()]
    os.utime(kept, (0.0, 0.0))
    gone = Fetched(tmp_path, host)
    gone._failed[address] = math.inf
    assert gone.get(address) == first
    with pytest.raises(InputError, match="does not answer"):
        fetched.get("http://elsewhere.example/1.png")


def test_tiles_stay_within_a_budget_the_oldest_going_first(
    tmp_path: Path, host: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    fetched = Fetched(tmp_path, host)
    fetched.get(f"http://{host}/tiles/3/4/5.png")
    [oldest] = [path for path in tmp_path.rglob("*") if path.is_file()]
    os.utime(oldest, (1.0, 1.0))
    tile_bytes = oldest.stat().st_size
    monkeypatch.setattr("wherestood.server.base_map.fetched.MOST_BYTES", 2 * tile_bytes)
    monkeypatch.setattr("wherestood.server.base_map.fetched.LOOKED_EVERY", 1)
    for row in (6, 7):
        fetched.get(f"http://{host}/tiles/3/4/{row}.png")
    kept = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert oldest not in kept
    assert 0 < sum(path.stat().st_size for path in kept) <= 2 * tile_bytes


def test_host_that_does_not_answer_is_not_waited_for_tile_by_tile(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        host = f"127.0.0.1:{taken.getsockname()[1]}"
    fetched = Fetched(tmp_path, host)  # nobody listens there any more
    asked: list[str] = []
    really = fetched._ask
    monkeypatch.setattr(fetched, "_ask", lambda a: asked.append(a) or really(a))
    for row in range(3):
        with pytest.raises(InputError, match="does not answer"):
            fetched.get(f"http://{host}/1/0/{row}.png")
    assert len(asked) == 1


CAPABILITIES = """<Capabilities xmlns="http://www.opengis.net/wmts/1.0"
 xmlns:ows="http://www.opengis.net/ows/1.1"><Contents>
<Layer><ows:Identifier>hills</ows:Identifier><Style isDefault="true">
<ows:Identifier>grey</ows:Identifier></Style><Format>image/png</Format>
<TileMatrixSetLink><TileMatrixSet>web</TileMatrixSet></TileMatrixSetLink>
<ResourceURL format="image/png" resourceType="tile"
 template="https://{host}/t/{{Style}}/{{TileMatrixSet}}/{{TileMatrix}}/{{TileRow}}/{{TileCol}}.png"/>
</Layer><TileMatrixSet><ows:Identifier>web</ows:Identifier>
<ows:SupportedCRS>urn:ogc:def:crs:EPSG::3857</ows:SupportedCRS>
<TileMatrix><ows:Identifier>b</ows:Identifier>
<ScaleDenominator>279541132.0143589</ScaleDenominator>
<TopLeftCorner>-20037508.3427892 20037508.3427892</TopLeftCorner>
<TileWidth>256</TileWidth><TileHeight>256</TileHeight>
<MatrixWidth>2</MatrixWidth><MatrixHeight>2</MatrixHeight></TileMatrix>
<TileMatrix><ows:Identifier>a</ows:Identifier>
<ScaleDenominator>559082264.0287178</ScaleDenominator>
<TopLeftCorner>-20037508.3427892 20037508.3427892</TopLeftCorner>
<TileWidth>256</TileWidth><TileHeight>256</TileHeight>
<MatrixWidth>1</MatrixWidth><MatrixHeight>1</MatrixHeight></TileMatrix>
</TileMatrixSet></Contents></Capabilities>"""


def _capabilities(host: str) -> bytes:
    return CAPABILITIES.format(host=host).encode()


def test_capabilities_give_the_same_levels_as_the_standard_lists() -> None:
    told = read_capabilities(_capabilities("maps.example"), "", "maps.example")
    usual = xyz_pyramid("")
    for level, same in zip(told.levels, usual.levels, strict=False):
        assert level.resolution_m == pytest.approx(same.resolution_m, rel=1e-9)
        assert level.west_m == pytest.approx(same.west_m, abs=1e-6)
    assert (
        told.address(told.levels[1], 1, 0)
        == "https://maps.example/t/grey/web/b/0/1.png"
    )


@pytest.mark.parametrize(
    ("content", "wanted", "problem"),
    [
        (b"<html>", "", "capabilities document"),
        (b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', "", "capabilities document"),
        (
            CAPABILITIES.format(host="maps.example").encode(),
            "roads",
            "no layer 'roads'",
        ),
        (CAPABILITIES.format(host="other.example").encode(), "", "another host"),
    ],
)
def test_capabilities_that_cannot_be_used_say_so(
    content: bytes, wanted: str, problem: str
) -> None:
    with pytest.raises(InputError, match=problem):
        read_capabilities(content, wanted, "maps.example")


def test_base_map_that_came_with_the_daybook_is_not_asked_unbidden(
    client: httpx.Client, desk: Desk, plate_id: str, host: str
) -> None:
    address = f"http://{host}/tiles/{{z}}/{{x}}/{{y}}.png"
    set_to(client, address)
    assert client.get("/api/state").json()["base_map_agreed"]
    # Another machine, to which the daybook was handed over.
    desk.base_maps = BaseMaps()
    assert not client.get("/api/state").json()["base_map_agreed"]
    ground = client.get(f"/api/plates/{plate_id}/ground").json()["ground"]
    for path in (f"ground/{ground}/base_map/0/0/0.png", "base_map"):
        refused = client.get(f"/api/{path}")
        assert refused.status_code == 403
        assert host in refused.json()["problem"]
    assert not Tiles.asked
    set_to(client, address)
    assert client.get("/api/base_map").status_code == 200


def test_what_was_agreed_to_outlives_a_restart(tmp_path: Path) -> None:
    kept = tmp_path / "state" / "base-maps"
    base_map = BaseMap(kind="xyz", address="https://maps.example/{z}/{x}/{y}.png")
    BaseMaps(kept).agree(base_map)
    assert BaseMaps(kept).agreed(base_map)
    other = base_map.model_copy(update={"address": "https://other.example/{z}"})
    assert not BaseMaps(kept).agreed(other)
