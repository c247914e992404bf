"""The ground is told as it is: where it lies, how high, what is seen from it."""

from __future__ import annotations

import io
import itertools
import math
from typing import Any

import httpx
import numpy as np
import pytest
from PIL import Image

from wherestood.earth.curvature import curvature_radius_m

#: The hill is a bell sampled every 50 m and seen over a plain that is not quite one.
TENTH_OF_A_DEGREE = 0.1
TWO_METRES = 2.0


@pytest.fixture
def ground(client: httpx.Client, plate_id: str) -> dict[str, Any]:
    """Return the plate's ground."""
    answer = client.get(f"/api/plates/{plate_id}/ground")
    assert answer.status_code == 200, answer.text
    told: dict[str, Any] = answer.json()
    return told


@pytest.fixture
def ask(client: httpx.Client, ground: dict[str, Any]) -> Any:
    """Return what asks about it."""

    def asked(path: str, **given: Any) -> httpx.Response:
        return client.get(f"/api/ground/{ground['ground']}/{path}", params=given)

    return asked


def carried(
    client: httpx.Client, ground: dict[str, Any], to: str, *points: Any
) -> list[Any]:
    answer = client.post(
        f"/api/ground/{ground['ground']}/transform",
        json={"to": to, "points": [list(point) for point in points]},
    )
    told: list[Any] = answer.json()["points"]
    return told


def test_ground_is_told(ground: dict[str, Any], valley: Any) -> None:
    west, south, east, north = ground["extent_m"]
    assert east - west == pytest.approx(valley.CELL_M * (valley.NODES - 1), rel=1e-3)
    assert ground["lowest_m"] == pytest.approx(valley.PLAIN_M, abs=TWO_METRES)
    assert ground["highest_m"] == pytest.approx(
        valley.PLAIN_M + valley.HILL_M, abs=TWO_METRES
    )
    assert ground["searched_covered"]
    assert ground["credits"] == ["Invented"]
    steps = ground["resolutions_m"]
    assert all(b == a / 2 for a, b in itertools.pairwise(steps))
    outline = np.asarray(ground["searched_m"][0])
    middle = outline.mean(axis=0)
    assert np.hypot(*(outline - middle).T) == pytest.approx(1000.0, rel=0.01)
    assert west < middle[0] < east
    assert south < middle[1] < north


def test_points_go_over_and_come_back(
    client: httpx.Client, ground: dict[str, Any], valley: Any
) -> None:
    there = carried(client, ground, "grid", valley.lonlat(), valley.lonlat(0, 1000))
    back = carried(client, ground, "lonlat", *there)
    assert back[0] == pytest.approx(list(valley.lonlat()), abs=1e-8)
    assert there[1][1] - there[0][1] == pytest.approx(1000.0, rel=1e-3)
    assert carried(client, ground, "grid", (0.0, 999.0)) == [None]


def test_horizon_shows_the_hill_where_it_stands(ask: Any, valley: Any) -> None:
    lon, lat = valley.lonlat()
    answer = ask("horizon", lon_deg=lon, lat_deg=lat, count=720)
    told = answer.json()
    elevation = np.asarray(told["elevation_deg"], dtype=float)
    distance = np.asarray(told["distance_m"], dtype=float)
    bearing = told["from_deg"] + told["step_deg"] * np.arange(720)
    highest = int(np.nanargmax(elevation))
    north = (bearing[highest] - told["turn_deg"] + 180.0) % 360.0 - 180.0
    assert abs(north) <= told["step_deg"]
    # What a bell's line of sight touches, found by trying every metre of it.
    along = np.arange(100.0, 2500.0)
    height = valley.PLAIN_M + valley.HILL_M * np.exp(
        -(((along - valley.HILL_NORTH_M) / valley.HILL_SD_M) ** 2)
    )
    drop = 0.87 * along**2 / 2.0 / curvature_radius_m(lat)
    tangent = (height - told["lens_m"] - drop) / along
    assert elevation[highest] == pytest.approx(
        math.degrees(math.atan(tangent.max())), abs=TENTH_OF_A_DEGREE
    )
    assert distance[highest] == pytest.approx(
        along[tangent.argmax()], abs=2 * valley.CELL_M
    )
    south = elevation[(highest + 360) % 720]
    assert abs(south) < TENTH_OF_A_DEGREE


def test_horizon_off_the_terrain_says_so(ask: Any) -> None:
    answer = ask("horizon", lon_deg=0.0, lat_deg=0.0)
    assert answer.status_code == 400
    assert answer.json()["remedy"]
    assert ask("horizon").status_code == 400


def test_tiles_are_shaded_from_the_north_west(ask: Any, ground: Any) -> None:
    answer = ask("tiles/hillshade/0/0/0.png")
    assert answer.headers["content-type"] == "image/png"
    with Image.open(io.BytesIO(answer.content)) as image:
        assert image.size == (ground["tile_px"], ground["tile_px"])
        pixels = np.asarray(image.convert("RGBA")).astype(int)
    bright = np.where(pixels[..., 0] > 0, pixels[..., 3], -pixels[..., 3])
    west, _, _, north = ground["extent_m"]
    step = ground["resolutions_m"][0]
    middle = (ground["extent_m"][2] - west) / 2.0 / step
    row = (north - ground["extent_m"][1]) / 2.0 / step - 2500.0 / step
    off = round(600.0 / step)
    lit = bright[round(row) - off, round(middle) - off]
    dark = bright[round(row) + off, round(middle) + off]
    assert lit > 0 > dark


def test_height_tiles_are_darkest_where_lowest(ask: Any, ground: Any) -> None:
    with Image.open(io.BytesIO(ask("tiles/height/0/0/0.png").content)) as image:
        dark = np.asarray(image.convert("RGBA")).astype(int)[..., 3]
    west, south, east, north = ground["extent_m"]
    step = ground["resolutions_m"][0]
    middle = round((east - west) / 2.0 / step)
    summit = round(((north - south) / 2.0 - 2500.0) / step)
    assert dark[summit, middle] < dark.max() / 10
    assert dark[round((north - south) / step) - 2, middle] == dark.max()


def test_tile_that_is_none_is_not_there(ask: Any) -> None:
    assert ask("tiles/hillshade/99/0/0.png").status_code == 404
    assert ask("tiles/hillshade/0/-1/0.png").status_code == 404
    assert ask("tiles/secret/0/0/0.png").status_code == 400


def test_contours_go_round_the_hill(ask: Any, ground: Any, valley: Any) -> None:
    box = ",".join(str(edge) for edge in ground["extent_m"])
    told = ask("contours", box=box, resolution_m=10.0, interval_m=100.0).json()
    line = next(one for one in told["lines"] if one["height_m"] == 500.0)
    points = np.asarray(line["points_m"])
    assert np.allclose(points[0], points[-1])
    # Where the bell is 400 m above the plain.
    radius = valley.HILL_SD_M * math.sqrt(math.log(valley.HILL_M / 400.0))
    middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
    off = np.hypot(*(points - middle).T)
    assert off == pytest.approx(radius, abs=valley.CELL_M / 2)
    many = ask("contours", box=box, resolution_m=10.0, interval_m=0.001)
    assert many.status_code == 400


def looking_north(distance_px: float = 900.0) -> dict[str, Any]:
    return {"bearing_deg": 0.0, "principal_distance_px": distance_px}


def test_view_puts_horizon_and_names_where_the_camera_shows_them(
    client: httpx.Client, plate_id: str, ground: dict[str, Any], valley: Any
) -> None:
    here = carried(client, ground, "grid", valley.lonlat())[0]
    asked = {"east_m": here[0], "north_m": here[1], "camera": looking_north()}
    told = client.post(f"/api/plates/{plate_id}/view", json=asked).json()
    run = told["horizon"][0]
    x_px, y_px = np.asarray(run["x_px"]), np.asarray(run["y_px"])
    assert x_px.min() < 0.0
    assert x_px.max() > valley.WIDTH_PX
    top = int(np.argmin(y_px))
    # The grid is turned against true north by some tenths of a degree.
    assert x_px[top] == pytest.approx(valley.WIDTH_PX / 2, abs=0.02 * 900)
    named = told["names"][0]
    assert named["name"] == "Round Hill"
    assert named["distance_m"] == pytest.approx(2500.0, abs=valley.CELL_M)
    assert named["height_m"] == pytest.approx(800.0, abs=TWO_METRES)
    # From below a round hill hides its own summit, by what the bell says.
    drop = 0.87 / 2.0 / curvature_radius_m(46.0)
    along = np.arange(100.0, 2440.0)
    bell = valley.PLAIN_M + valley.HILL_M * np.exp(
        -(((along - valley.HILL_NORTH_M) / valley.HILL_SD_M) ** 2)
    )
    lens_m = valley.PLAIN_M + 1.5
    highest = ((bell - lens_m) / along - drop * along).max()
    summit = (valley.PLAIN_M + valley.HILL_M - lens_m) / 2500.0 - drop * 2500.0
    hidden_m = (highest - summit) * 2500.0
    assert not named["seen"]
    assert named["hidden_by_m"] == pytest.approx(hidden_m, abs=2 * TWO_METRES)
    assert told["difference"] is None  # nothing is traced yet


def test_rendering_is_as_large_as_asked_and_shows_sky_above_land(
    client: httpx.Client, plate_id: str, ground: dict[str, Any], valley: Any
) -> None:
    here = carried(client, ground, "grid", valley.lonlat())[0]
    asked = {"east_m": here[0], "north_m": here[1], "camera": looking_north()}
    answer = client.post(f"/api/plates/{plate_id}/rendering?px=320", json=asked)
    with Image.open(io.BytesIO(answer.content)) as image:
        tones = np.asarray(image.convert("L")).astype(float)
    assert tones.shape == (240, 320)
    # The hill fills the middle to the top of the frame; beside it is sky.
    assert tones[:20, 0].min() > 200.0 > tones[-20:].max()


def test_terrain_that_is_needed_is_named(client: httpx.Client, plate_id: str) -> None:
    told = client.get(f"/api/plates/{plate_id}/terrain_needed").json()
    assert told["near_cell_m"] == 25.0
    assert told["degree_squares"]
    assert 0.9 < told["uncovered_share"] < 1.0
    assert "megabytes" not in told["sentences"][0]


def test_without_terrain_it_says_what_to_do(
    client: httpx.Client, plate_id: str
) -> None:
    layer = client.get("/api/items/terrain_layers").json()["items"][0]
    client.delete(f"/api/items/terrain_layers/{layer['id']}")
    answer = client.get(f"/api/plates/{plate_id}/ground")
    assert answer.status_code in (400, 404)
    assert "terrain" in answer.json()["problem"].lower()
    assert client.get("/api/ground").status_code == 404
    missing = client.get(f"/api/plates/{plate_id}").json()["ready"]["missing"]
    assert [one["what"] for one in missing] == ["terrain"]


def test_box_of_no_numbers_is_refused_in_words(
    client: httpx.Client, plate_id: str
) -> None:
    ground = client.get(f"/api/plates/{plate_id}/ground").json()["ground"]
    for box in ("nan,0,1,1", "0,0,inf,1", "0,0,1"):
        refused = client.get(
            f"/api/ground/{ground}/contours", params={"box": box, "resolution_m": 20}
        )
        assert refused.status_code == 400
        assert "cannot be read" in refused.json()["problem"]
