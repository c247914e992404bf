"""Write what is handed out as KML 2.2 (OGC 07-147r2), each plate hung in its view.

KML's camera starts looking down, its top to the north; it is turned by *heading* about
the vertical, then by *tilt* about its right, so that 90 looks level, then by *roll*
about the line of sight. Roll is written with our sense, clockwise seen from behind; the
standard's text says no sense of it (from memory), and globes may differ.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path
from xml.etree import ElementTree as Xml
from xml.etree.ElementTree import Element

import shapely
from shapely.geometry.base import BaseGeometry

from wherestood.record.export.handed import HandedOut, HandedPlate, Place
from wherestood.record.export.layers import CAUTION, Layer, Row
from wherestood.record.export.xml_files import write_xml
from wherestood.record.palette import IRON_BLUE, MADDER, STRAW

__all__ = ["write_kml"]

_KML = "http://www.opengis.net/kml/2.2"
#: How far before the camera a plate hangs [m].
HUNG_M = 200.0
_STYLES = {
    "regions": (IRON_BLUE, 0.25), "views": (STRAW, 0.15), "features": (MADDER, 0.4),
    "stations": (IRON_BLUE, 1.0),
}  # fmt: skip


def write_kml(path: Path, handed: HandedOut, layers: Iterable[Layer]) -> None:
    """Write layers as folders of placemarks, and a PhotoOverlay for every picture.

    A plate is hung where one place holds, it is told how the camera looked, and its
    picture goes along.
    """
    Xml.register_namespace("", _KML)
    root = Element(_name("kml"))
    document = _under(root, "Document")
    _under(document, "name", handed.title)
    _under(document, "description", _face(handed))
    for name, (colour, opacity) in _STYLES.items():
        _style(document, name, colour, opacity)
    hung = [plate for plate in handed.plates if _hangs(plate)]
    if hung:
        folder = _under(document, "Folder")
        _under(folder, "name", "Plates, hung in their view")
        stems = handed.stems()
        for plate in hung:
            _overlay(folder, plate, stems[plate.name])
    for layer in layers:
        if layer.rows:
            folder = _under(document, "Folder")
            _under(folder, "name", layer.title)
            for row in layer.rows:
                _placemark(folder, layer, row)
    write_xml(path, root)


_HEIGHTS = (
    "Heights are in the elevation model's own vertical datum, which may lie off the "
    "mean sea level that KML means."
)


def _face(handed: HandedOut) -> str:
    lines = [CAUTION]
    if any(place.height_m is not None for p in handed.plates for place in p.places):
        lines.append(_HEIGHTS)
    if handed.has_withheld:
        lines.append("Some places are withheld or told only roughly; see each plate.")
    return " ".join([*lines, *handed.credits])


def _hangs(plate: HandedPlate) -> bool:
    place = plate.place
    return plate.picture is not None and place is not None and place.held is not None


def _overlay(folder: Element, plate: HandedPlate, stem: str) -> None:
    place = plate.place
    assert place is not None
    assert place.held is not None
    overlay = _under(folder, "PhotoOverlay")
    _under(overlay, "name", plate.title)
    _under(overlay, "description", " ".join([CAUTION, *plate.credits]))
    _camera(overlay, place)
    icon = _under(overlay, "Icon")
    _under(icon, "href", f"pictures/{stem}.jpg")
    camera = place.held.camera
    view = _under(overlay, "ViewVolume")
    c_px = camera.principal_distance_px
    half_px, high_px = camera.width_px / 2.0, camera.height_px / 2.0
    # A scan left for right hangs as it was seen once mirrored; its file is not.
    cross_px = -camera.cross_px if camera.reversed else camera.cross_px
    sides = {
        "leftFov": -half_px + cross_px,
        "rightFov": half_px + cross_px,
        "bottomFov": -high_px + camera.rise_px,
        "topFov": high_px + camera.rise_px,
    }
    for name, side_px in sides.items():
        _under(view, name, f"{math.degrees(math.atan2(side_px, c_px)):.4f}")
    _under(view, "near", f"{HUNG_M:g}")
    point = _under(overlay, "Point")
    _under(point, "coordinates", _at(place.lon_deg, place.lat_deg))


def _camera(overlay: Element, place: Place) -> None:
    assert place.held is not None
    camera = place.held.camera
    told = _under(overlay, "Camera")
    _under(told, "longitude", f"{place.lon_deg:.7f}")
    _under(told, "latitude", f"{place.lat_deg:.7f}")
    _under(told, "altitude", f"{place.height_m or 0.0:.2f}")
    _under(told, "heading", f"{math.degrees(camera.bearing_rad) % 360.0:.4f}")
    _under(told, "tilt", f"{90.0 + math.degrees(camera.tilt_rad):.4f}")
    _under(told, "roll", f"{math.degrees(camera.roll_rad):.4f}")
    known = place.height_m is not None
    _under(told, "altitudeMode", "absolute" if known else "relativeToGround")


def _placemark(folder: Element, layer: Layer, row: Row) -> None:
    mark = _under(folder, "Placemark")
    cells = row.cells
    name = cells.get("name") or cells.get("title") or cells.get("plate") or ""
    if layer.name == "regions" and cells["probability"]:
        name = f"{name}: {100 * float(cells['probability']):.0f}% region"
    elif layer.name == "stations" and cells["rank"] not in (None, 1):
        name = f"{name}: place {cells['rank']}"
    _under(mark, "name", str(name))
    _under(mark, "styleUrl", f"#{layer.name}")
    data = _under(mark, "ExtendedData")
    for key, value in cells.items():
        if value not in (None, ""):
            one = _under(data, "Data")
            one.set("name", key)
            _under(one, "value", str(value))
    if row.shape is not None and not row.shape.is_empty:
        _geometry(mark, row.shape)


def _geometry(above: Element, shape: BaseGeometry) -> None:
    parts = shapely.get_parts(shape)
    if len(parts) > 1:
        above = _under(above, "MultiGeometry")
    for part in parts:
        if part.geom_type == "Polygon":
            polygon = _under(above, "Polygon")
            for tag, ring in (
                ("outerBoundaryIs", part.exterior),
                *(("innerBoundaryIs", hole) for hole in part.interiors),
            ):
                laid = _under(_under(polygon, tag), "LinearRing")
                _under(laid, "coordinates", _all_at(ring))
        else:
            laid = _under(above, part.geom_type)  # Point, LineString
            _under(laid, "coordinates", _all_at(part))


def _style(document: Element, name: str, colour: str, opacity: float) -> None:
    style = _under(document, "Style")
    style.set("id", name)
    line, fill = _abgr(colour, 1.0), _abgr(colour, opacity)
    if name == "stations":
        _under(_under(style, "IconStyle"), "color", line)
    _under(_under(style, "LineStyle"), "color", line)
    _under(_under(style, "PolyStyle"), "color", fill)


def _abgr(colour: str, opacity: float) -> str:
    red, green, blue = colour[1:3], colour[3:5], colour[5:7]
    return f"{round(255 * opacity):02x}{blue}{green}{red}".lower()


def _all_at(shape: BaseGeometry) -> str:
    return " ".join(_at(lon, lat) for lon, lat in shapely.get_coordinates(shape))


def _at(lon_deg: float, lat_deg: float) -> str:
    return f"{lon_deg:.7f},{lat_deg:.7f}"


def _under(above: Element, tag: str, text: str | None = None) -> Element:
    made = Xml.SubElement(above, _name(tag))
    made.text = text
    return made


def _name(tag: str) -> str:
    return f"{{{_KML}}}{tag}"
