"""Lay out what is handed out as layers of a map: rows of a shape and its columns.

Every format of a map is written from these, so that all of them tell the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import pyproj
import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from wherestood.record.camera_json import LONLAT_DECIMALS
from wherestood.record.export.handed import (
    Answer,
    Feature,
    HandedOut,
    HandedPlate,
    Place,
)
from wherestood.record.export.view import WEDGE_M, square, view_of, wedge
from wherestood.record.plain import rounded

__all__ = ["CAUTION", "LAYERS", "Column", "Layer", "Row", "layers_of"]

#: Stands beside every place that is told.
CAUTION = (
    "A position holds if the camera stood inside the ground searched, and the hills "
    "then were as assumed. No evidence of a boundary, of title, or of leave to go "
    "there."
)
Kind = Literal["words", "number", "whole"]
Cell = str | float | int | None


@dataclass(frozen=True)
class Column:
    """Name a column, and what it holds."""

    name: str
    kind: Kind = "words"


@dataclass(frozen=True)
class Row:
    """Hold one thing on the map.

    Attributes
    ----------
    shape : shapely geometry or None
        Longitude and latitude, WGS 84; None where no place is told [deg].
    cells : dict
        By column.
    """

    shape: BaseGeometry | None
    cells: dict[str, Cell]


@dataclass(frozen=True)
class Layer:
    """Hold rows of one kind.

    Attributes
    ----------
    name, title : str
    geometry : str
        What shapes it has, as GeoPackage names them.
    columns : tuple of Column
    rows : tuple of Row
    """

    name: str
    title: str
    geometry: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...] = ()


def _columns(words: str = "", numbers: str = "") -> tuple[Column, ...]:
    named = [Column(name) for name in words.split()]
    return (*named, *(Column(name, "number") for name in numbers.split()))


#: The layers, with their columns, without rows.
LAYERS: tuple[Layer, ...] = (
    Layer(
        "stations", "Camera positions", "Point",
        (
            *_columns("plate title"),
            Column("rank", "whole"),
            *_columns(
                "verdict decision decided_by decided date place precision withheld "
                "vertical_datum fix credit caution",
                "probability near_enough_m elsewhere square_side_m height_m sd_east_m "
                "sd_north_m sd_height_m looks_towards_deg looks_towards_sd_deg "
                "looks_up_deg bearing_deg tilt_deg roll_deg sees_across_deg "
                "principal_distance_mm",
            ),
        ),
    ),
    Layer(
        "regions", "Ground that holds the camera", "MultiPolygon",
        _columns("plate title kind fix", "probability square_side_m area_m2"),
    ),
    Layer(
        "views", "What the plate sees", "Polygon",
        (
            *_columns("plate title fix note"),
            Column("rank", "whole"),
            *_columns("", "left_deg right_deg looks_towards_deg reach_m"),
        ),
    ),
    Layer(
        "features", "Things on the ground", "Unknown",
        _columns(
            "feature name other_names what traced seen_on existed_from existed_to "
            "source",
            "sd_m height_m square_side_m",
        ),
    ),
)  # fmt: skip
_WGS84 = pyproj.Geod(ellps="WGS84")
_REACH_NOTE = "Shows which way the plate looks, not how far it sees."


def layers_of(handed: HandedOut) -> tuple[Layer, ...]:
    """Return all layers with their rows.

    Every plate has a row among the stations: one that tells no place has no shape,
    and says why.
    """
    stations: list[Row] = []
    regions: list[Row] = []
    views: list[Row] = []
    for plate in handed.plates:
        stations += _stations(plate)
        regions += _regions(plate)
        views += _views(plate)
    features = [_feature(one, handed) for one in handed.features]
    filled = (stations, regions, views, features)
    return tuple(
        Layer(one.name, one.title, one.geometry, one.columns, tuple(rows))
        for one, rows in zip(LAYERS, filled, strict=True)
    )


def _stations(plate: HandedPlate) -> list[Row]:
    answer = plate.answer
    told: dict[str, Cell] = {
        "plate": plate.name,
        "title": plate.row.get("title", ""),
        "date": plate.date_edtf,
        "place": plate.place_words,
        "precision": plate.precision,
        "withheld": "; ".join(plate.withheld),
        "credit": " ".join(plate.credits),
    }
    if answer is None or not answer.places:
        return [Row(None, _whole("stations", told | _of_answer(answer)))]
    rows = []
    for place in answer.places:
        cells = told | _of_answer(answer) | _of_place(place) | {"caution": CAUTION}
        shape = Point(rounded(place.lon_deg, 7), rounded(place.lat_deg, 7))
        rows.append(Row(shape, _whole("stations", cells)))
    return rows


def _of_answer(answer: Answer | None) -> dict[str, Cell]:
    if answer is None:
        return {}
    decided = answer.decided
    return {
        "verdict": answer.verdict,
        "near_enough_m": answer.near_enough_m,
        "elsewhere": answer.elsewhere,
        "vertical_datum": answer.vertical_datum,
        "fix": answer.key,
        "decision": decided.conclusion if decided else "",
        "decided_by": decided.decided_by if decided else "",
        "decided": decided.decided[:10] if decided else "",
    }


def _of_place(place: Place) -> dict[str, Cell]:
    cells: dict[str, Cell] = {
        "rank": place.rank,
        "probability": place.probability,
        "square_side_m": place.side_m,
        "height_m": place.height_m,
        "sd_east_m": place.sd_east_m,
        "sd_north_m": place.sd_north_m,
        "sd_height_m": place.sd_height_m,
    }
    held = place.held
    if held is None:
        return cells
    camera = held.camera
    return cells | {
        "looks_towards_deg": rounded(held.sight_bearing_deg, 4),
        "looks_towards_sd_deg": rounded(held.sd.get("sight_bearing_deg"), 4),
        "looks_up_deg": rounded(held.sight_elevation_deg, 4),
        "bearing_deg": rounded(math.degrees(camera.bearing_rad) % 360.0, 4),
        "tilt_deg": rounded(math.degrees(camera.tilt_rad), 4),
        "roll_deg": rounded(math.degrees(camera.roll_rad), 4),
        "sees_across_deg": rounded(view_of(camera).across_deg, 3),
        "principal_distance_mm": held.principal_distance_mm,
    }


def _regions(plate: HandedPlate) -> list[Row]:
    answer = plate.answer
    if answer is None:
        return []
    told: dict[str, Cell] = {
        "plate": plate.name, "title": plate.row.get("title", ""), "fix": answer.key,
    }  # fmt: skip
    rows = [
        Row(
            _many(region.shape),
            _whole(
                "regions",
                told | {"kind": "region", "probability": region.probability,
                        "area_m2": _area_m2(region.shape)},
            ),
        )
        for region in answer.regions
    ]  # fmt: skip
    for place in answer.places:
        if place.side_m is not None:
            cells: dict[str, Cell] = {
                "kind": "square that holds it", "square_side_m": place.side_m,
            }  # fmt: skip
            rows.append(Row(_many(square(place)), _whole("regions", told | cells)))
    return rows


def _views(plate: HandedPlate) -> list[Row]:
    rows = []
    for place in plate.places:
        shape = wedge(place)
        if shape is None or place.held is None:
            continue
        view = view_of(place.held.camera)
        cells: dict[str, Cell] = {
            "plate": plate.name,
            "title": plate.row.get("title", ""),
            "fix": plate.answer.key if plate.answer else "",
            "note": _REACH_NOTE,
            "rank": place.rank,
            "left_deg": rounded(view.left_deg, 3),
            "right_deg": rounded(view.right_deg, 3),
            "looks_towards_deg": rounded(place.held.sight_bearing_deg, 4),
            "reach_m": WEDGE_M,
        }
        rows.append(Row(_snapped(shape), _whole("views", cells)))
    return rows


def _feature(feature: Feature, handed: HandedOut) -> Row:
    on = [plate.name for plate in handed.plates if feature.key in plate.features]
    cells: dict[str, Cell] = {
        "feature": feature.key,
        "name": feature.title,
        "other_names": "; ".join(feature.names[1:]),
        "what": feature.what,
        "traced": "yes" if feature.traced else "no",
        "seen_on": "; ".join(on),
        "existed_from": feature.existed_from,
        "existed_to": feature.existed_to,
        "source": feature.source,
        "sd_m": feature.sd_m,
        "height_m": feature.height_m,
        "square_side_m": feature.side_m,
    }
    shape = None if feature.shape is None else _snapped(feature.shape)
    return Row(shape, _whole("features", cells))


def _whole(layer: str, cells: dict[str, Cell]) -> dict[str, Cell]:
    """Return a row's cells in the layer's order, with what it leaves unsaid."""
    columns = next(one.columns for one in LAYERS if one.name == layer)
    assert cells.keys() <= {column.name for column in columns}
    empty: dict[Kind, Cell] = {"words": "", "number": None, "whole": None}
    return {c.name: cells.get(c.name, empty[c.kind]) for c in columns}


def _snapped(shape: BaseGeometry) -> BaseGeometry:
    """Round to what is told, rings the way RFC 7946 (3.1.6) has them."""
    snapped = shapely.set_precision(
        shapely.force_2d(shape), 10.0**-LONLAT_DECIMALS, mode="pointwise"
    )
    return shapely.orient_polygons(snapped, exterior_cw=False)


def _many(shape: BaseGeometry) -> BaseGeometry:
    parts = [one for one in shapely.get_parts(shape) if one.geom_type == "Polygon"]
    return _snapped(shapely.multipolygons(parts))


def _area_m2(shape: BaseGeometry) -> float:
    area_m2, _ = _WGS84.geometry_area_perimeter(shape)
    return round(abs(area_m2), 1)
