"""Draw a map of what is handed out as SVG, over shaded ground."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape

import shapely
from shapely.geometry import Polygon
from shapely.geometry import box as as_box
from shapely.geometry.base import BaseGeometry

from wherestood.record.export.layers import Layer, Row
from wherestood.record.export.shaded_map import MapBox

__all__ = ["map_svg"]

_M_A_DEGREE = 111_195.0
_LONGEST = 32  # letters of a name on a map
_DRAWN = {"regions": "region", "views": "view", "features": "thing"}


def map_svg(
    box: MapBox, layers: Sequence[Layer], shade: str, anchors: dict[str, str]
) -> str:
    """Return a map in metres east and south of its north-western corner.

    Parameters
    ----------
    box : MapBox
    layers : sequence of Layer
    shade : str
        Address of the picture of shaded ground; empty where there is none.
    anchors : dict
        Where on the page each plate is told of, by its name.
    """
    wide_m, high_m = box.wide_m, box.high_m
    unit_m = max(wide_m, high_m) / 100.0
    parts = [
        f'<svg class="map" viewBox="0 0 {wide_m:.0f} {high_m:.0f}" role="group" '
        f'aria-label="Map" data-unit="{unit_m:.2f}" tabindex="0">'
    ]
    if shade:
        parts.append(
            f'<image href="{escape(shade)}" width="{wide_m:.0f}" '
            f'height="{high_m:.0f}" preserveAspectRatio="none"/>'
        )
    names = _Names(unit_m, wide_m)
    # Stations lie uppermost, and their names have the first claim.
    stations = [
        drawn
        for layer in layers
        if layer.name == "stations"
        for row in layer.rows
        for drawn in _station(box, row, names, anchors)
    ]
    for layer in layers:
        if layer.name in _DRAWN:
            for row in layer.rows:
                parts += _shape(box, layer.name, row, names)
    parts += stations
    parts.append(_scale(wide_m, high_m, unit_m))
    return "".join([*parts, "</svg>"])


@dataclass
class _Names:
    """Place names so that none lies over another; those that would are left away."""

    unit_m: float
    wide_m: float
    taken: list[tuple[float, float, float]] = field(default_factory=list)

    def at(self, x: float, y: float, name: str, kind: str) -> str:
        """Return a name above a point; its title tells it where it is left away."""
        short = name if len(name) <= _LONGEST else f"{name[: _LONGEST - 1]}…"
        half = 0.6 * self.unit_m * len(short)
        # A name by an edge is moved in, so that all of it is read.
        x = min(max(x, half), self.wide_m - half) if 2 * half < self.wide_m else x
        if not name or any(
            abs(x - other) < half + wide and abs(y - high) < 2.4 * self.unit_m
            for other, high, wide in self.taken
        ):
            return ""
        self.taken.append((x, y, half))
        return (
            f'<text class="{kind}" x="{x:.1f}" y="{y:.1f}" '
            f'font-size="{2.2 * self.unit_m:.1f}">{escape(short)}</text>'
        )


def _shape(box: MapBox, layer: str, row: Row, names: _Names) -> list[str]:
    window = as_box(box.west_deg, box.south_deg, box.east_deg, box.north_deg)
    if row.shape is None or not row.shape.intersects(window):
        return []
    kind = _DRAWN[layer]
    if row.cells.get("square_side_m"):
        kind = "square"
    name = str(row.cells.get("name") or row.cells.get("kind") or "")
    if row.shape.geom_type == "Point":
        x, y = _at(box, row.shape.x, row.shape.y)
        r = 0.5 * names.unit_m
        return [
            f'<path class="{kind}" d="M{x:.1f},{y - r:.1f}l{r:.1f},{2 * r:.1f}h'
            f'{-2 * r:.1f}z"><title>{escape(name)}</title></path>',
            names.at(x, y - 1.2 * names.unit_m, name, "thing-name"),
        ]
    return [
        f'<path class="{kind}" d="{_path(box, row.shape.intersection(window))}">'
        f"<title>{escape(name)}</title></path>"
    ]


def _station(
    box: MapBox, row: Row, names: _Names, anchors: dict[str, str]
) -> list[str]:
    unit_m = names.unit_m
    shape = row.shape
    if shape is None or not box.holds(shape.x, shape.y):
        return []
    cells = row.cells
    name = str(cells["title"] or cells["plate"])
    x, y = _at(box, shape.x, shape.y)
    if cells["square_side_m"]:
        # The square is drawn; its middle is no place.
        drawn = ""
    else:
        first = cells["rank"] in (None, 1)
        kind = "station" if first else "station other"
        drawn = (
            f'<circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="{unit_m:.1f}">'
            f"<title>{escape(name)}</title></circle>"
        )
        name = name if first else f"place {cells['rank']}"
    anchor = escape(anchors.get(str(cells["plate"]), ""))
    return [
        f'<a href="#{anchor}">{drawn}'
        f"{names.at(x, y - 1.6 * unit_m, name, 'station-name')}</a>"
    ]


def _scale(wide_m: float, high_m: float, unit_m: float) -> str:
    about_m = wide_m / 5.0
    power = 10.0 ** math.floor(math.log10(about_m))
    long_m = max(k * power for k in (1.0, 2.0, 5.0) if k * power <= about_m)
    words = f"{long_m / 1000:g} km" if long_m >= 1000.0 else f"{long_m:g} m"
    x, y = 2.0 * unit_m, high_m - 2.0 * unit_m
    tick = 0.8 * unit_m
    return (
        f'<path class="scale" d="M{x:.1f},{y - tick:.1f}v{tick:.1f}h{long_m:.1f}v'
        f'{-tick:.1f}"/><text class="scale-name" x="{x:.1f}" '
        f'y="{y - 1.4 * unit_m:.1f}" font-size="{2.2 * unit_m:.1f}">{words}, north is '
        "up</text>"
    )


def _path(box: MapBox, shape: BaseGeometry) -> str:
    drawn = []
    for part in shapely.get_parts(shape):
        rings = [part]
        if isinstance(part, Polygon):
            rings = [part.exterior, *part.interiors]
        elif part.geom_type != "LineString":
            continue
        for ring in rings:
            at = [_at(box, lon, lat) for lon, lat in shapely.get_coordinates(ring)]
            points = "L".join(f"{x:.1f},{y:.1f}" for x, y in at)
            drawn.append(f"M{points}{'Z' if isinstance(part, Polygon) else ''}")
    return "".join(drawn)


def _at(box: MapBox, lon_deg: float, lat_deg: float) -> tuple[float, float]:
    across = (lon_deg - box.west_deg) / (box.east_deg - box.west_deg)
    return across * box.wide_m, (box.north_deg - lat_deg) * _M_A_DEGREE
