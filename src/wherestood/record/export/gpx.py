"""Write places as waypoints of GPX 1.1, to be walked to."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from xml.etree import ElementTree as Xml
from xml.etree.ElementTree import Element

from shapely.geometry import Point

from wherestood.record.export.handed import HandedOut, HandedPlate, Place
from wherestood.record.export.layers import CAUTION, Layer
from wherestood.record.export.xml_files import write_xml

__all__ = ["write_gpx"]

_GPX = "http://www.topografix.com/GPX/1/1"


def write_gpx(path: Path, handed: HandedOut, layers: Iterable[Layer]) -> None:
    """Write every place told, and every thing on the ground that is a point.

    Children stand in the schema's order. No ``time`` is written: it would be when the
    point was recorded, and no plate's date.
    """
    Xml.register_namespace("", _GPX)
    root = Element(_name("gpx"), {"version": "1.1", "creator": "wherestood"})
    about = _under(root, "metadata")
    _under(about, "name", handed.title)
    _under(about, "desc", CAUTION)
    for plate in handed.plates:
        for place in plate.places:
            _station(root, plate, place)
    for layer in layers:
        if layer.name == "features":
            for row in layer.rows:
                if isinstance(row.shape, Point):
                    _thing(root, row.shape, row.cells)
    write_xml(path, root)


def _station(root: Element, plate: HandedPlate, place: Place) -> None:
    answer = plate.answer
    assert answer is not None
    mark = _waypoint(root, place.lon_deg, place.lat_deg)
    if place.height_m is not None:
        _under(mark, "ele", f"{place.height_m:.1f}")
    alone = len(answer.places) == 1
    _under(mark, "name", plate.name if alone else f"{plate.name}, place {place.rank}")
    _under(mark, "cmt", f"{answer.verdict}. {CAUTION}".lstrip(". "))
    _under(mark, "desc", " ".join(_told(plate, place, answer.vertical_datum)))
    _under(mark, "sym", "Flag, Blue")  # a common receiver's sign: common practice
    _under(mark, "type", "camera position")


def _told(plate: HandedPlate, place: Place, datum: str) -> list[str]:
    told = [f"{plate.title}."] if plate.title != plate.name else []
    if place.side_m is not None:
        told.append(f"Somewhere in a square of {place.side_m:g} m about this point.")
    elif place.sd_east_m is not None and place.sd_north_m is not None:
        told.append(
            f"Standard error {place.sd_east_m:.0f} m east, {place.sd_north_m:.0f} m "
            "north."
        )
    if place.held is not None:
        told.append(f"Looks towards {place.held.sight_bearing_deg:.1f} deg true.")
    if place.height_m is not None:
        told.append(f"Height in the datum of the elevation model ({datum}).")
    return [*told, *plate.credits]


def _thing(
    root: Element, at: Point, cells: dict[str, str | float | int | None]
) -> None:
    mark = _waypoint(root, at.x, at.y)
    if cells["height_m"] is not None:
        _under(mark, "ele", f"{cells['height_m']:.1f}")
    _under(mark, "name", str(cells["name"]))
    if cells["what"]:
        _under(mark, "desc", str(cells["what"]))
    if cells["source"]:
        _under(mark, "src", str(cells["source"]))
    _under(mark, "type", "thing on the ground")


def _waypoint(root: Element, lon_deg: float, lat_deg: float) -> Element:
    at = {"lat": f"{lat_deg:.7f}", "lon": f"{lon_deg:.7f}"}
    return Xml.SubElement(root, _name("wpt"), at)


def _under(above: Element, tag: str, text: str | None = None) -> Element:
    made = Xml.SubElement(above, _name(tag))
    made.text = text
    return made


def _name(tag: str) -> str:
    return f"{{{_GPX}}}{tag}"
