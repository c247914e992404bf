"""Requests mean what the IIIF Image API 3.0 says.

Source: *Image API 3.0* (https://iiif.io/api/image/3.0/), the tables of sections 4.1
to 4.4; worked through by hand for an image of 6000 x 4000 px.
"""

from __future__ import annotations

import pytest

from wherestood.errors import InputError
from wherestood.plate.served.request import MOST_PX, Piece, read_request

WIDTH_PX, HEIGHT_PX = 6000, 4000


def read(region: str, size: str, rotation: str = "0") -> Piece:
    return read_request(region, size, rotation, "default", "jpg", WIDTH_PX, HEIGHT_PX)


@pytest.mark.parametrize(
    ("region", "box"),
    [
        ("full", (0, 0, 6000, 4000)),
        ("square", (1000, 0, 4000, 4000)),
        ("125,15,120,140", (125, 15, 120, 140)),
        ("pct:41.6,7.5,40,70", (2496, 300, 2400, 2800)),
        ("5900,3900,200,200", (5900, 3900, 100, 100)),
        ("pct:50,50,100,100", (3000, 2000, 3000, 2000)),
    ],
)
def test_region(region: str, box: tuple[int, ...]) -> None:
    piece = read(region, "max" if region != "full" else "100,")
    assert (piece.left, piece.top, piece.width, piece.height) == box


@pytest.mark.parametrize(
    ("size", "sides"),
    [
        ("max", (3000, 2000)),
        ("150,", (150, 100)),
        (",150", (225, 150)),
        ("pct:50", (1500, 1000)),
        ("225,100", (225, 100)),
        ("!225,100", (150, 100)),
        ("!9000,9000", (3000, 2000)),
        ("^6000,", (6000, 4000)),
        ("^,3000", (4500, 3000)),
        ("^pct:120", (3600, 2400)),
        ("^!4500,4500", (4500, 3000)),
        ("^3500,2000", (3500, 2000)),
        ("^max", (7348, 4898)),  # the root of 36 000 000 / 6 000 000 times each
    ],
)
def test_size(size: str, sides: tuple[int, int]) -> None:
    piece = read("0,0,3000,2000", size)
    assert (piece.across, piece.down) == sides
    assert piece.across * piece.down <= MOST_PX


def test_whole_is_no_larger_than_is_given_at_once() -> None:
    huge = read_request("full", "max", "0", "color", "png", 20_000, 20_000)
    assert (huge.across, huge.down) == (6000, 6000)


@pytest.mark.parametrize(
    ("rotation", "turned"),
    [
        ("0", (False, 0.0)),
        ("180", (False, 180.0)),
        ("90", (False, 90.0)),
        ("22.5", (False, 22.5)),
        ("!0", (True, 0.0)),
        ("!180", (True, 180.0)),
        ("360", (False, 0.0)),
    ],
)
def test_rotation(rotation: str, turned: tuple[bool, float]) -> None:
    piece = read("full", "100,", rotation)
    assert (piece.mirrored, piece.turned_deg) == turned


@pytest.mark.parametrize(
    ("region", "size"),
    [
        ("full", "6001,"),
        ("full", "pct:100.1"),
        ("full", "pct:0"),
        ("full", "0,0"),
        ("full", "!0,100"),
        ("full", "!100,"),
        ("full", "^7000,7000"),
        ("6000,0,1,1", "max"),
        ("0,4000,1,1", "max"),
        ("0,0,0,5", "max"),
        ("1,2,3", "max"),
        ("1.5,2,3,4", "max"),
        ("pct:-1,0,10,10", "max"),
        ("full\n", "max"),
    ],
)
def test_what_cannot_be_is_refused(region: str, size: str) -> None:
    with pytest.raises(InputError):
        read(region, size)


@pytest.mark.parametrize(
    ("region", "size", "rotation", "canonical"),
    [
        ("full", "150,", "0", "full/150,100/0/default.jpg"),
        ("0,0,6000,4000", "pct:10", "0.0", "full/600,400/0/default.jpg"),
        ("0,0,3000,2000", "max", "!90", "0,0,3000,2000/max/!90/default.jpg"),
        ("0,0,30,20", "^60,", "0", "0,0,30,20/^60,40/0/default.jpg"),
    ],
)
def test_canonical_form(region: str, size: str, rotation: str, canonical: str) -> None:
    """Section 4.8: w,h for sizes, full and max where they are."""
    assert read(region, size, rotation).canonical(WIDTH_PX, HEIGHT_PX) == canonical


@pytest.mark.parametrize(
    ("form", "most_px"), [("webp", 16_383), ("jpg", 65_535), ("png", 65_535)]
)
def test_side_that_its_format_cannot_hold_is_refused(form: str, most_px: int) -> None:
    """JPEG has 16 bits for a side, WebP 14."""
    size = f"^{most_px},2"
    assert read_request("full", size, "0", "default", form, 600, 400).across == most_px
    with pytest.raises(InputError, match="px a side"):
        read_request("full", f"^{most_px + 1},2", "0", "default", form, 600, 400)
