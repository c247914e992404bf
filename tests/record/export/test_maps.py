"""Check the forms of maps: other programs read back what was handed out.

Readers: GDAL 3.6 (``ogr2ogr``), which has no part in writing KML, GPX, XLSX and CSV;
GeoPackage is written through pyogrio, whose own GDAL is another build. GeoJSON's rules
are those of RFC 7946, H. Butler and others, 2016.
"""

from __future__ import annotations

import csv
import io
import json
import math
import sqlite3
import subprocess
import tempfile
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pyproj
import pytest
import shapely
from shapely.geometry import shape

from wherestood.camera.model import Camera, bearing_elevation
from wherestood.record.export.geojson import geometry_of
from wherestood.record.export.handed import HandedOut, Held, Place
from wherestood.record.export.layers import layers_of
from wherestood.record.export.view import WEDGE_M, view_of, wedge

WGS84 = pyproj.Geod(ellps="WGS84")
A_CENTIMETRE_DEG = 1e-7
ONE_METRE = 1.0
KML = "{http://www.opengis.net/kml/2.2}"
GPX = "{http://www.topografix.com/GPX/1/1}"
outside = pytest.mark.outside_program("ogr2ogr")


@cache
def read_by_gdal(path: Path) -> dict[str, list[dict[str, str]]]:
    """Let GDAL turn every layer into CSV, shapes as well-known text."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "read"
        subprocess.run(
            ["ogr2ogr", "-f", "CSV", str(out), str(path), "-lco", "GEOMETRY=AS_WKT",
             "--config", "OGR_XLSX_HEADERS", "FORCE"],
            capture_output=True, check=True,
        )  # fmt: skip
        return {
            file.stem: list(csv.DictReader(io.StringIO(file.read_text("utf-8"))))
            for file in out.iterdir()
        }


def test_geojson_keeps_the_rules_of_its_standard(written: Path) -> None:
    form = json.loads((written / "places.geojson").read_text("utf-8"))
    assert set(form) == {"type", "features"}  # no crs (4), nothing foreign
    for feature in form["features"]:
        assert set(feature) == {"type", "geometry", "properties"}
        if feature["geometry"] is None:
            continue
        read = shape(feature["geometry"])
        assert read.is_valid
        for part in shapely.get_parts(read):
            if part.geom_type == "Polygon":  # 3.1.6: the right-hand rule
                assert shapely.is_ccw(part.exterior)
                assert not any(shapely.is_ccw(hole) for hole in part.interiors)
        west, south, east, north = read.bounds
        assert -28.0 < west <= east < -27.0  # longitude first (3.1.1)
        assert 41.0 < south <= north < 42.0


def test_what_crosses_the_antimeridian_is_cut_there() -> None:
    """RFC 7946, 3.1.9. Fiji's 180th meridian; the place is invented."""
    camera = Camera(math.radians(90.0), 0.0, 0.0, 1900.0, 0.0, 0.0, 0.0, 1600, 1200)
    place = Place(179.99, -17.0, held=Held(camera, 90.0, 0.0))
    form = geometry_of(wedge(place))
    assert form is not None
    assert form["type"] == "MultiPolygon"
    parts = shapely.get_parts(shape(form))
    edges = sorted(part.bounds[::2] for part in parts)
    assert edges[0][0] == -180.0
    assert edges[1][1] == 180.0
    assert all(east - west < 0.1 for west, east in edges)


def test_a_wedge_begins_at_the_station_and_is_as_wide_as_the_plate_sees(
    handed: HandedOut,
) -> None:
    place = handed.plates[0].place
    assert place is not None
    assert place.held is not None
    drawn = wedge(place)
    assert drawn is not None
    corners = shapely.get_coordinates(drawn.exterior)
    assert tuple(corners[0]) == (place.lon_deg, place.lat_deg)
    bearing, _, far_m = WGS84.inv(
        np.full(len(corners) - 2, place.lon_deg),
        np.full(len(corners) - 2, place.lat_deg), corners[1:-1, 0], corners[1:-1, 1],
    )  # fmt: skip
    assert far_m == pytest.approx(np.full(len(far_m), WEDGE_M), abs=ONE_METRE)
    camera = place.held.camera
    x = np.array([0.0, camera.width_px])
    seen, _ = bearing_elevation(camera, x, np.full(2, camera.height_px / 2))
    assert np.degrees(seen) == pytest.approx([bearing[-1], bearing[0]], abs=1e-6)


def test_a_plate_left_for_right_sees_the_same_ground() -> None:
    """Its scan's edges change places; left of the view stays left."""
    camera = Camera(1.0, 0.0, 0.0, 1900.0, 0.0, 200.0, 0.0, 1600, 1200, reversed=True)
    view = view_of(camera)
    # atan((+-800 + 200) / 1900), by hand: -17.526 and 27.759 deg.
    assert view.left_deg == pytest.approx(math.degrees(1.0) - 17.526, abs=1e-3)
    assert view.right_deg == pytest.approx(math.degrees(1.0) + 27.759, abs=1e-3)


@outside
@pytest.mark.parametrize("layer", ["stations", "regions", "views", "features"])
def test_geopackage_holds_every_row_shape_and_number(
    written: Path, handed: HandedOut, layer: str
) -> None:
    read = read_by_gdal(written / "places.gpkg")[layer]
    wanted = next(one for one in layers_of(handed) if one.name == layer)
    assert len(read) == len(wanted.rows)
    for row, back in zip(wanted.rows, read, strict=True):
        for column in wanted.columns:
            told = row.cells[column.name]
            if column.kind == "words":
                assert back[column.name] == (told or "")
            elif told is None:
                assert back[column.name] == ""
            else:
                assert float(back[column.name]) == pytest.approx(told, rel=1e-12)
        if row.shape is None:
            assert back["WKT"] == ""
        else:
            same = shapely.from_wkt(back["WKT"])
            assert same.equals_exact(row.shape, A_CENTIMETRE_DEG)


def test_geopackage_brings_styles_for_its_layers(written: Path) -> None:
    with closing(sqlite3.connect(written / "places.gpkg")) as book:
        told = book.execute("SELECT data_type FROM gpkg_contents WHERE table_name = "
                            "'layer_styles'").fetchall()  # fmt: skip
        styles = book.execute(
            "SELECT f_table_name, styleQML, styleSLD FROM layer_styles"
        ).fetchall()
    assert told == [("attributes",)]
    assert {name for name, _, _ in styles} == {
        "stations", "regions", "views", "features",
    }  # fmt: skip
    for _, qml, sld in styles:
        assert ElementTree.fromstring(sld).tag.endswith("StyledLayerDescriptor")
        if qml:
            assert ElementTree.fromstring(qml).tag == "qgis"


@outside
def test_kml_holds_every_place(written: Path, handed: HandedOut) -> None:
    read = read_by_gdal(written / "places.kml")["Camera positions"]
    rows = layers_of(handed)[0].rows
    assert [one["plate"] for one in read] == [row.cells["plate"] for row in rows]
    assert read[0]["Name"] == "The mill & its <weir>, = sum"
    at = shapely.from_wkt(read[0]["WKT"])
    assert at.equals_exact(rows[0].shape, A_CENTIMETRE_DEG)
    hidden = read[-1]
    assert (hidden["precision"], hidden["withheld"]) == ("withheld", "its place")
    assert hidden["WKT"] in ("", "GEOMETRYCOLLECTION EMPTY")


def test_a_plate_hangs_in_its_view(written: Path, handed: HandedOut) -> None:
    """Order of children: OGC 07-147r2, PhotoOverlayType (from memory)."""
    root = ElementTree.parse(written / "places.kml").getroot()
    (overlay,) = root.iter(f"{KML}PhotoOverlay")
    order = [child.tag.removeprefix(KML) for child in overlay]
    assert order == ["name", "description", "Camera", "Icon", "ViewVolume", "Point"]
    place = handed.plates[0].place
    assert place is not None
    camera = overlay.find(f"{KML}Camera")
    assert camera is not None
    told = {child.tag.removeprefix(KML): child.text for child in camera}
    assert float(told["longitude"] or 0) == pytest.approx(place.lon_deg, abs=1e-7)
    assert float(told["heading"] or 0) == pytest.approx(38.0)
    assert float(told["tilt"] or 0) == pytest.approx(91.5)  # 90 is level
    assert float(told["roll"] or 0) == pytest.approx(0.8)
    view = overlay.find(f"{KML}ViewVolume")
    assert view is not None
    sides = {child.tag.removeprefix(KML): float(child.text or 0) for child in view}
    # 1600 by 1200 px, c 1900 px, cross -25, rise 40 px: atan(-825 / 1900) ...
    assert sides["leftFov"] == pytest.approx(-23.4710, abs=1e-3)
    assert sides["rightFov"] == pytest.approx(22.1903, abs=1e-3)
    assert sides["bottomFov"] == pytest.approx(-16.4222, abs=1e-3)
    assert sides["topFov"] == pytest.approx(18.6157, abs=1e-3)
    icon = overlay.find(f"{KML}Icon/{KML}href")
    assert icon is not None
    assert (written / str(icon.text)).is_file()


@outside
def test_gpx_holds_the_places_to_walk_to(written: Path, handed: HandedOut) -> None:
    read = read_by_gdal(written / "places.gpx")["waypoints"]
    assert [one["name"] for one in read] == ["1987/12", "square", "Round Hill"]
    assert [one["type"] for one in read] == [
        "camera position", "camera position", "thing on the ground",
    ]  # fmt: skip
    at = shapely.from_wkt(read[0]["WKT"])
    place = handed.plates[0].place
    assert place is not None
    assert (at.x, at.y) == pytest.approx((place.lon_deg, place.lat_deg), abs=1e-7)
    assert "square of 1000 m" in read[1]["desc"]
    assert [one["time"] for one in read] == ["", "", ""]


def test_gpx_children_stand_in_the_schema_s_order(written: Path) -> None:
    """GPX 1.1 schema, wptType (topografix.com/GPX/1/1)."""
    order = (
        "ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link",
        "sym", "type", "fix", "sat", "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid",
        "extensions",
    )  # fmt: skip
    root = ElementTree.parse(written / "places.gpx").getroot()
    points = root.findall(f"{GPX}wpt")
    assert points
    for point in points:
        at = [order.index(child.tag.removeprefix(GPX)) for child in point]
        assert at == sorted(at)


@outside
@pytest.mark.parametrize("name", ["plates.xlsx", "stations.csv"])
def test_tables_hold_words_as_words_and_numbers_as_numbers(
    written: Path, handed: HandedOut, name: str
) -> None:
    read = read_by_gdal(written / name)["stations"]
    rows = layers_of(handed)[0].rows
    assert len(read) == len(rows)
    for row, back in zip(rows, read, strict=True):
        for column, told in row.cells.items():
            if told is None or told == "":
                assert back[column] == ""
            elif isinstance(told, str):
                assert back[column] == told
            else:
                assert float(back[column]) == pytest.approx(told, rel=1e-9)
    plates: Any = read_by_gdal(written / "plates.xlsx")["plates"]
    assert plates[0]["title"] == "The mill & its <weir>, = sum"
