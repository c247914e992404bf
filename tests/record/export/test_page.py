"""Check that the page stands alone, and draws places where they are."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from types import ModuleType
from urllib.parse import unquote

import numpy as np
import pytest
import shapely
from PIL import Image

from wherestood.errors import InputError
from wherestood.record.export import write_formats
from wherestood.record.export.handed import HandedOut
from wherestood.record.export.layers import Layer, Row
from wherestood.record.export.map_drawing import map_svg
from wherestood.record.export.pictures_of_fix import then_and_now_in
from wherestood.record.export.shaded_map import ABOUT_M, boxes_about, shaded_map

A_PIXEL_M = 15.0  # of a map 10 km wide


class Reading(HTMLParser):
    """Gather what a page refers to, and its words."""

    def __init__(self) -> None:
        super().__init__()
        self.refers: list[str] = []
        self.ids: set[str] = set()
        self.drawn: list[tuple[str, dict[str, str | None]]] = []
        self.words = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        self.refers += [str(told[name]) for name in ("src", "href") if name in told]
        if told.get("id"):
            self.ids.add(str(told["id"]))
        self.drawn.append((tag, told))

    def handle_data(self, data: str) -> None:
        self.words += data


@pytest.fixture(scope="module")
def page(
    handed: HandedOut, scene: ModuleType, tmp_path_factory: pytest.TempPathFactory
) -> Path:
    """Return the folder of a page with maps of two places far apart."""
    folder = tmp_path_factory.mktemp("page")
    (near, _) = boxes_about([(-27.5, 41.2), (-27.4, 41.6)])
    for name, tone in (("then.tif", 90), ("now.tif", 160)):
        Image.new("RGB", (320, 240), (tone, tone, tone)).save(folder / name)
    both = then_and_now_in(folder)
    plates = (replace(handed.plates[0], then_and_now=both), *handed.plates[1:])
    far = replace(handed, plates=plates, maps=(shaded_map(scene.terrain(), near),))
    write_formats(folder, far, ["page"])
    return folder


def read(page: Path) -> Reading:
    reading = Reading()
    reading.feed((page / "index.html").read_text("utf-8"))
    return reading


def test_the_page_needs_nothing_but_the_files_beside_it(page: Path) -> None:
    reading = read(page)
    assert reading.refers
    for address in reading.refers:
        assert not re.match(r"(\w+:|//)", address), address
        if address.startswith("#"):
            assert address[1:] in reading.ids
        else:
            assert (page / unquote(address)).is_file(), address
    text = (page / "index.html").read_text("utf-8")
    assert "@import" not in text
    assert "fetch(" not in text
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")


def test_then_and_now_lie_side_by_side_and_on_one_another_by_a_slider(
    page: Path,
) -> None:
    reading = read(page)
    shown = [told for tag, told in reading.drawn if tag == "img"]
    for words, tone in (("Then.", 90), ("Now.", 160)):
        (one,) = [told for told in shown if told.get("alt") == words]
        picture = Image.open(page / unquote(str(one["src"]))).convert("L")
        assert abs(int(np.asarray(picture).mean()) - tone) <= 1
    assert [told for tag, told in reading.drawn if told.get("type") == "range"]
    with pytest.raises(InputError, match=r"then\.tif"):
        then_and_now_in(page / "nowhere")


def test_the_page_tells_every_plate_and_what_is_withheld(page: Path) -> None:
    words = " ".join(read(page).words.split())
    for said in (
        "FULL, RESTRICTED", "The mill & its <weir>, = sum", "Edwin Quill", "1871-05~",
        "accepted by Ada Moss, 2026-05-03", "square of 1000 m", "Withheld",
        "its place", "Quexley Museum", "Elevation: invented, no rights.",
        "41.2000° N, 27.5000° W",
    ):  # fmt: skip
        assert said in words, said


def test_the_map_draws_a_station_where_it_is(page: Path) -> None:
    circles = [told for tag, told in read(page).drawn if tag == "circle"]
    (station,) = [one for one in circles if "cx" in one and float(one["cx"] or 0) > 100]
    # In the middle of its own map, ABOUT_M from each edge.
    assert float(station["cx"] or 0) == pytest.approx(ABOUT_M, abs=A_PIXEL_M)
    assert float(station["cy"] or 0) == pytest.approx(ABOUT_M, abs=A_PIXEL_M)
    with Image.open(page / "page" / "ground-1.jpg") as shade:
        tones = np.asarray(shade)
    assert tones.std() > 5.0  # hills, and not one tone
    words = read(page).words
    assert "where a camera stood" in words
    assert "where it may have stood instead" not in words  # no plate has two places


def test_a_name_by_the_edge_of_a_map_is_moved_in() -> None:
    (box,) = boxes_about([(8.5, 46.0)])
    row = Row(shapely.Point(box.west_deg, 46.0), {"name": "Great Wessen Head"})
    drawn = map_svg(box, [Layer("features", "Things", "POINT", (), (row,))], "", {})
    at = float(re.findall(r'class="thing-name" x="([\d.]+)"', drawn)[0])
    # Its letters are some half as wide as high, and stand about its middle.
    high = float(re.findall(r'class="thing-name"[^>]*font-size="([\d.]+)"', drawn)[0])
    assert at > 0.5 * 0.5 * high * len("Great Wessen Head")


def test_slopes_to_the_light_are_bright(scene: ModuleType) -> None:
    """Light from the north-west: a plane that faces it is brighter than its mirror."""
    land = scene.terrain()
    axis = np.arange(land.elevation_m.shape[0]) * land.cell_m
    east, north = np.meshgrid(axis, axis)
    (box,) = boxes_about([(scene.LON_DEG, scene.LAT_DEG)])
    mean, no_hole = {}, shaded_map(land, box)
    for name, sign in (("facing", 1.0), ("away", -1.0)):
        plane = (1000.0 + sign * 0.1 * (east - north)).astype(np.float32)
        tones = shaded_map(replace(land, elevation_m=plane, water=None), box).tones
        assert tones is not None
        mean[name] = tones.mean()
    assert mean["facing"] > mean["away"] + 20.0
    plane[: len(plane) // 2] = np.nan
    holed = shaded_map(replace(land, elevation_m=plane, water=None), box)
    assert (no_hole.has_unknown_ground, holed.has_unknown_ground) == (False, True)


def test_places_near_one_another_share_a_map_and_far_ones_do_not() -> None:
    near = boxes_about([(8.5, 46.0), (8.55, 46.02), (8.60, 46.04)])
    assert len(near) == 1
    assert near[0].holds(8.5, 46.0)
    assert near[0].holds(8.60, 46.04)
    assert len(boxes_about([(8.5, 46.0), (9.5, 46.0)])) == 2
