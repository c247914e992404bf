"""Scans are served by the IIIF Image API 3.0, level 2, over HTTP too.

Source: *Image API Compliance, Version 3.0.0* (https://iiif.io/api/image/3.0/compliance/),
sections 3.1 to 3.6, by which the test names go. What a request means is tested in
``tests/plate/served``.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
import pyvips
from numpy.typing import NDArray
from PIL import Image

from wherestood.daybook.originals import take_in
from wherestood.server.desk import Desk

WIDTH_PX, HEIGHT_PX = 640, 480
#: JPEG and WebP at the quality served change a tone by some units of 255.
LOSSY_TONES = 12.0


def opened(answer: httpx.Response) -> NDArray[np.float64]:
    assert answer.status_code == 200, answer.text
    with Image.open(io.BytesIO(answer.content)) as image:
        return np.asarray(image.convert("L"), dtype=np.float64)


@pytest.fixture
def image(client: httpx.Client, scan_id: str) -> Any:
    """Return what asks for a piece of the scan."""

    def ask(path: str, **more: Any) -> httpx.Response:
        return client.get(f"/iiif/3/{scan_id}/{path}", **more)

    return ask


def test_information_says_what_level_2_asks(image: Any, scan_id: str) -> None:
    answer = image("info.json")
    told = answer.json()
    assert told["@context"] == "http://iiif.io/api/image/3/context.json"
    assert told["id"].endswith(f"/iiif/3/{scan_id}")
    assert (told["type"], told["profile"]) == ("ImageService3", "level2")
    assert told["protocol"] == "http://iiif.io/api/image"
    assert (told["width"], told["height"]) == (WIDTH_PX, HEIGHT_PX)
    assert answer.headers["content-type"] == "application/json"
    assert 'rel="profile"' in answer.headers["link"]
    wanted = {"accept": "application/ld+json"}
    assert (
        image("info.json", headers=wanted)
        .headers["content-type"]
        .startswith("application/ld+json")
    )


def test_base_address_leads_to_the_information(
    client: httpx.Client, scan_id: str
) -> None:
    answer = client.get(f"/iiif/3/{scan_id}")
    assert answer.status_code == 303
    assert answer.headers["location"].endswith("/info.json")


def test_pages_of_other_sites_may_read_images_that_they_were_let_to(
    image: Any,
) -> None:
    answer = image("full/max/0/default.jpg")
    assert answer.headers["access-control-allow-origin"] == "*"
    assert 'rel="canonical"' in answer.headers["link"]


@pytest.mark.parametrize(
    ("form", "media"),
    [("jpg", "image/jpeg"), ("png", "image/png"), ("webp", "image/webp")],
)
def test_whole_scan_comes_back_in_each_format(
    image: Any, valley: Any, form: str, media: str
) -> None:
    answer = image(f"full/max/0/default.{form}")
    assert answer.headers["content-type"] == media
    tones = opened(answer)
    assert tones.shape == (HEIGHT_PX, WIDTH_PX)
    apart = np.abs(tones - valley.picture())
    assert np.sqrt(np.mean(apart**2)) < (1e-9 if form == "png" else LOSSY_TONES)


def test_piece_is_that_piece(image: Any, valley: Any) -> None:
    tones = opened(image("100,40,300,200/300,200/0/default.png"))
    assert np.array_equal(tones, valley.picture()[40:240, 100:400])


def test_tiles_meet_without_a_seam(image: Any) -> None:
    left = opened(image("0,0,256,256/128,/0/default.png"))
    right = opened(image("256,0,256,256/128,/0/default.png"))
    both = opened(image("0,0,512,256/256,/0/default.png"))
    assert np.abs(np.hstack((left, right)) - both).max() <= 1.0


def test_evened_tiles_meet_without_a_seam(image: Any) -> None:
    left = opened(image("0,100,256,256/256,256/0/default.png?local=true"))
    both = opened(image("0,100,512,256/512,256/0/default.png?local=true"))
    assert np.array_equal(left, both[:, :256])


def test_mirrored_and_turned(image: Any, valley: Any) -> None:
    whole = valley.picture()
    assert np.array_equal(opened(image("full/max/!0/default.png")), whole[:, ::-1])
    assert np.array_equal(opened(image("full/max/90/default.png")), np.rot90(whole, -1))
    assert np.array_equal(
        opened(image("full/max/!180/default.png")), np.rot90(whole[:, ::-1], 2)
    )


@pytest.mark.parametrize(
    "path",
    [
        "700,0,10,10/max/0/default.jpg",
        "0,0,0,10/max/0/default.jpg",
        "-1,0,10,10/max/0/default.jpg",
        "full/641,/0/default.jpg",
        "full/pct:101/0/default.jpg",
        "full/,/0/default.jpg",
        "full/full/0/default.jpg",
        "full/max/361/default.jpg",
        "full/max/-90/default.jpg",
        "full/max/0/sepia.jpg",
        "full/max/0/default.tif",
        "full/^90000,90000/0/default.jpg",
        "full/0,/0/default.jpg",
        "nan,0,1,1/max/0/default.jpg",
        "pct:0,0,1e9,1/max/0/default.jpg",
    ],
)
def test_what_cannot_be_answered_is_refused_in_words(image: Any, path: str) -> None:
    answer = image(path)
    assert answer.status_code == 400
    assert answer.json()["problem"]


def test_what_never_changes_is_not_sent_twice(image: Any) -> None:
    first = image("full/200,/0/default.jpg")
    tag = first.headers["etag"]
    again = image("full/200,/0/default.jpg", headers={"if-none-match": tag})
    assert again.status_code == 304
    assert again.content == b""
    other = image("full/200,/0/default.jpg?local=true")
    assert other.headers["etag"] != tag


def test_unknown_scan_is_not_there(client: httpx.Client) -> None:
    assert client.get("/iiif/3/nothing/info.json").status_code == 404


def test_page_that_is_searched_is_the_page_that_is_shown(
    client: httpx.Client, desk: Desk, plate_id: str, tmp_path: Path
) -> None:
    pages = [pyvips.Image.black(64, 48) + tone for tone in (40, 200)]
    both = pages[0].join(pages[1], "vertical").cast("uchar").copy()
    both.set_type(pyvips.GValue.gint_type, "page-height", 48)
    both.write_to_file(str(tmp_path / "two.tif"))
    assert desk.book is not None
    taken = take_in(desk.book, "1987.12", tmp_path / "two.tif", "Ada Moss")
    scans = client.get("/api/items/scans", params={"plate_id": plate_id}).json()
    scan = next(one for one in scans["items"] if one["called"] == taken.address)
    client.patch(f"/api/items/scans/{scan['id']}", json={"page": 1, "negative": False})
    shown = client.get(f"/iiif/3/{scan['id']}/full/max/0/default.png")
    assert opened(shown).mean() == 200.0
    small = client.get(f"/api/scans/{scan['id']}/thumbnail", params={"px": 32})
    tones = pyvips.Image.new_from_buffer(small.content, "")
    assert abs(tones.avg() - 200.0) < 3.0  # WebP loses some


def test_scan_said_to_be_a_negative_has_other_addresses(
    client: httpx.Client, scan_id: str, plate_id: str
) -> None:
    def look() -> dict[str, Any]:
        whole: dict[str, Any] = client.get(f"/api/plates/{plate_id}").json()
        return dict(whole["look"])

    piece = f"/iiif/3/{scan_id}/full/40,/0/default.png"
    before = look()["version"]
    kept = client.get(piece, params={"v": before})
    assert "immutable" in kept.headers["cache-control"]
    small = client.get(f"/api/scans/{scan_id}/thumbnail")
    client.patch(f"/api/items/scans/{scan_id}", json={"negative": True})
    assert look()["version"] != before
    # An address of before is not kept for good as what it shows now.
    changed = client.get(piece, params={"v": before})
    assert "immutable" not in changed.headers["cache-control"]
    assert changed.headers["etag"] != kept.headers["etag"]
    tag = {"if-none-match": small.headers["etag"]}
    assert client.get(f"/api/scans/{scan_id}/thumbnail", headers=tag).content


def test_covered_picture_comes_only_to_who_asks_to_see_it(
    client: httpx.Client, scan_id: str, plate_id: str
) -> None:
    cover = {
        "about_table": "plates", "about_id": plate_id, "plate_id": plate_id,
        "covered": True, "because": "a burial ground",
    }  # fmt: skip
    assert client.post("/api/items/restrictions", json=cover).status_code == 200
    piece = f"/iiif/3/{scan_id}/full/40,/0/default.png"
    for address in (piece, f"/iiif/3/{scan_id}/info.json"):
        assert client.get(address).status_code == 403
        assert client.get(address, params={"uncover": True}).status_code == 200
    version = client.get(f"/api/plates/{plate_id}").json()["look"]["version"]
    shown = client.get(piece, params={"uncover": True, "v": version})
    assert shown.headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    ("asked", "canonical"),
    [
        ("full/^max/0/gray.jpg", "full/^max/0/default.jpg"),
        ("0,0,640,480/640,/0/default.jpg", "full/max/0/default.jpg"),
        ("full/320,/0/color.jpg", "full/320,240/0/color.jpg"),
    ],
)
def test_canonical_address_is_as_the_standard_writes_it(
    image: Any, asked: str, canonical: str
) -> None:
    # Image API 3.0, section 4.7; the scan is grey.
    link = image(asked).headers["link"]
    assert f'/{canonical}>;rel="canonical"' in link
