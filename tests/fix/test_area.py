"""Check the reading of the ground searched."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
import shapely

from wherestood.earth.frame import Frame
from wherestood.errors import AreaError
from wherestood.fix.area import read_area

ONE_METRE = 1.0
SQUARE = [[8.4, 46.0], [8.6, 46.0], [8.6, 46.2], [8.4, 46.2], [8.4, 46.0]]


def _saved(folder: Path, content: Any) -> Path:
    path = folder / "area.geojson"
    path.write_text(json.dumps(content))
    return path


def _polygon(*rings: list[list[float]]) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": list(rings)}


def test_box_keeps_its_four_sides() -> None:
    area = read_area("8.4,46.0,8.6,46.2")
    assert area.polygon.bounds == (8.4, 46.0, 8.6, 46.2)
    assert area.centre == pytest.approx((8.5, 46.1))


def test_box_across_the_180th_meridian_is_narrow() -> None:
    area = read_area("179.9,-17,-179.9,-16.8")
    width_deg = area.polygon.bounds[2] - area.polygon.bounds[0]
    assert width_deg == pytest.approx(0.2)


def test_circle_holds_every_point_within_its_radius() -> None:
    area = read_area("8.5,46.1,3km")
    azimuth_deg = np.linspace(0, 360, 200)
    lon, lat, _ = pyproj.Geod(ellps="WGS84").fwd(
        np.full(200, 8.5), np.full(200, 46.1), azimuth_deg, np.full(200, 2999.9)
    )
    assert shapely.contains_xy(area.polygon, lon, lat).all()
    assert area.radius_m == pytest.approx(
        3000 / math.cos(math.pi / 120), abs=10 * ONE_METRE
    )
    assert area.size_km2 == pytest.approx(math.pi * 9, rel=2e-3)


@pytest.mark.parametrize(
    ("length", "metres"),
    # The international foot is 0.3048 m; 5280 feet are a mile, 66 a chain.
    [
        ("2 miles", 3218.688),
        ("1mi", 1609.344),
        ("500yd", 457.2),
        ("40 chains", 804.672),
    ],
)
def test_circle_takes_the_lengths_that_the_page_offers(
    length: str, metres: float
) -> None:
    said = read_area(f"8.5,46.1,{length}").radius_m
    assert said == pytest.approx(read_area(f"8.5,46.1,{metres}m").radius_m)


def test_circle_takes_metres() -> None:
    assert read_area("8.5,46.1,500m").radius_m == pytest.approx(500, abs=ONE_METRE)


@pytest.mark.parametrize(
    "wrap",
    [
        lambda shape: shape,
        lambda shape: {"type": "Feature", "properties": {}, "geometry": shape},
        lambda shape: {
            "type": "FeatureCollection",
            "features": [{"type": "Feature", "properties": {}, "geometry": shape}],
        },
        lambda shape: {"type": "GeometryCollection", "geometries": [shape]},
        lambda shape: {"type": "MultiPolygon", "coordinates": [shape["coordinates"]]},
    ],
)
def test_every_geojson_wrapping_gives_the_same_area(tmp_path: Path, wrap: Any) -> None:
    area = read_area(_saved(tmp_path, wrap(_polygon(SQUARE))))
    assert area.polygon.equals(shapely.box(8.4, 46.0, 8.6, 46.2))
    assert area.source == "area.geojson"


def test_area_in_frame_is_as_large_as_on_the_ellipsoid() -> None:
    area = read_area("8.4,46.0,8.6,46.2")
    frame = Frame.local(*area.centre)
    assert area.in_frame(frame).area / 1e6 == pytest.approx(area.size_km2, rel=1e-4)


def test_long_edges_bend_with_the_parallel() -> None:
    area = read_area("8,46,9,46.2")
    frame = Frame.local(*area.centre)
    _, middle_m = frame.from_lonlat(np.array([8.5]), np.array([46.0]))
    _, corner_m = frame.from_lonlat(np.array([8.0]), np.array([46.0]))
    south_m = area.in_frame(frame).bounds[1]
    assert corner_m[0] - middle_m[0] > 100 * ONE_METRE
    assert south_m == pytest.approx(middle_m[0], abs=ONE_METRE)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("nowhere.geojson", "neither numbers nor a file"),
        ("8.5,46.1,3", "no unit.*such as 3km"),
        ("8.5,46.1,600", "no unit.*such as 600m or 0.6km"),
        ("8.5,46.1,3leagues", "'leagues'"),
        ("8.5,46.1,0km", "more than 0"),
        ("8.6,46.0,8.4,45.9", "no inside"),
        ("500000,5100000,510000,5110000", "metres in a map grid"),
        ("46.1,98.5,3km", "swapped"),
    ],
)
def test_wrong_words_are_refused_with_what_was_wrong(text: str, words: str) -> None:
    with pytest.raises(AreaError, match=words):
        read_area(text)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (_polygon(SQUARE[:-1]), "not closed"),
        (_polygon([SQUARE[i] for i in (0, 2, 1, 3, 0)]), "not valid"),
        (_polygon(SQUARE[:2]), "at least 4 positions"),
        (_polygon([[1, 1], [2, 2], [3, 3], [1, 1]]), "not valid|no inside"),
        (_polygon([[1, None], [2, 2], [3, 3], [1, None]]), "two numbers"),
        ({"type": "Point", "coordinates": [8, 46]}, "holds a Point"),
        ({"type": "FeatureCollection", "features": []}, "no polygon"),
        ([1, 2], "no GeoJSON type"),
        (
            {**_polygon(SQUARE), "crs": {"properties": {"name": "EPSG:32632"}}},
            "another grid",
        ),
    ],
)
def test_wrong_geojson_is_refused_with_what_was_wrong(
    tmp_path: Path, content: Any, words: str
) -> None:
    with pytest.raises(AreaError, match=words):
        read_area(_saved(tmp_path, content))


def test_a_file_that_is_not_json_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "area.geojson"
    path.write_text("POLYGON((0 0, 1 1))")
    with pytest.raises(AreaError, match="not JSON"):
        read_area(path)
