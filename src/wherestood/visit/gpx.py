"""Write the places of a field sheet as GPX 1.1."""

from __future__ import annotations

from xml.sax.saxutils import escape

import numpy as np

from wherestood.earth.frame import Frame
from wherestood.visit.field_sheet import FieldSheet

__all__ = ["gpx_text"]

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<gpx version="1.1" creator="wherestood" '
    'xmlns="http://www.topografix.com/GPX/1/1">\n'
)


def gpx_text(sheet: FieldSheet, frame: Frame) -> str:
    """Return waypoints of camera and paired things, and the 90% region as a track.

    Heights are left out: GPX wants them above mean sea level, and the elevation
    model's datum may be another.
    """
    lines = [_HEAD]
    title = f"Plate {sheet.plate}"
    lines.append(f"<metadata><name>{escape(title)}</name>")
    if sheet.caution:
        lines.append(f"<desc>{escape(sheet.caution)}</desc>")
    lines.append("</metadata>\n")
    for place in sheet.places:
        name = "Camera" if len(sheet.places) == 1 else f"Camera, place {place.number}"
        words = f"{place.wgs84}. {sheet.caution}".strip()
        lines.append(_point(place.lon_deg, place.lat_deg, name, words))
    things = {one.name: one for pair in sheet.pairs for one in (pair.near, pair.far)}
    for thing in things.values():
        lon, lat = frame.to_lonlat(np.array([thing.east_m]), np.array([thing.north_m]))
        lines.append(
            _point(float(lon[0]), float(lat[0]), thing.name, "Shows on the plate.")
        )
    rings = [
        ring
        for region in sheet.regions["features"]
        if region["properties"]["probability"] == 0.9
        for polygon in region["geometry"]["coordinates"]
        for ring in polygon
    ]
    if rings:
        lines.append("<trk><name>Holds the camera 9 times in 10</name>\n")
        for ring in rings:
            points = "".join(
                f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"/>' for lon, lat in ring
            )
            lines.append(f"<trkseg>{points}</trkseg>\n")
        lines.append("</trk>\n")
    lines.append("</gpx>\n")
    return "".join(lines)


def _point(lon: float, lat: float, name: str, words: str) -> str:
    return (
        f'<wpt lat="{lat:.7f}" lon="{lon:.7f}"><name>{escape(name)}</name>'
        f"<desc>{escape(words)}</desc></wpt>\n"
    )
