"""Write plates as JSON-LD 1.1, in the words of schema.org.

The context stands in the file itself, so that nothing need be fetched to read it.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from wherestood.record.atomic import write_text_atomically
from wherestood.record.export.geojson import geometry_of
from wherestood.record.export.handed import Feature, HandedOut, HandedPlate, Place
from wherestood.record.export.layers import CAUTION
from wherestood.record.export.view import square, view_of

__all__ = ["json_ld_of", "write_json_ld"]

_CONTEXT = {
    "@vocab": "https://schema.org/",
    "dcterms": "http://purl.org/dc/terms/",
    "edtf": "http://id.loc.gov/datatypes/edtf/",
    "exposed": {"@id": "dcterms:created", "@type": "edtf:EDTF"},
    "license": {"@id": "https://schema.org/license"},
    "geometry": {
        "@id": "http://www.opengis.net/ont/geosparql#asGeoJSON", "@type": "@json",
    },
}  # fmt: skip


def write_json_ld(path: Path, handed: HandedOut) -> None:
    """Write plates and things on the ground as one graph."""
    text = json.dumps(json_ld_of(handed), indent=1, ensure_ascii=False, allow_nan=False)
    write_text_atomically(path, text + "\n")


def json_ld_of(handed: HandedOut) -> dict[str, Any]:
    """Return plates as photographs, with where they were taken and what they show."""
    things = {one.key: f"_:thing{number}" for number, one in enumerate(handed.features)}
    graph = [_photograph(plate, things) for plate in handed.plates]
    graph += [_thing(one, things[one.key]) for one in handed.features]
    return {"@context": _CONTEXT, "@graph": graph}


def _photograph(plate: HandedPlate, things: dict[str, str]) -> dict[str, Any]:
    row = plate.row
    told: dict[str, Any] = {
        "@type": "Photograph",
        "identifier": plate.name,
        "name": row.get("title", ""),
        "description": row.get("description", ""),
        "creator": _named("Person", row.get("maker", "")),
        "holdingArchive": _named("ArchiveOrganization", row.get("held by", "")),
        "keywords": [
            w.strip() for w in row.get("subjects", "").split(";") if w.strip()
        ],
        "exposed": plate.date_edtf,
        "creditText": " ".join(plate.credits),
        "license": row.get("licence", ""),
        "conditionsOfAccess": f"Withheld: {'; '.join(plate.withheld)}."
        if plate.withheld
        else "",
        "contentLocation": [
            {"@id": things[key]} for key in plate.features if key in things
        ],
        "locationCreated": _locations(plate),
    }
    return {name: value for name, value in told.items() if value}


def _named(kind: str, name: str) -> dict[str, str] | None:
    return {"@type": kind, "name": name} if name else None


def _locations(plate: HandedPlate) -> list[dict[str, Any]]:
    """Return where it was taken: one place, or each that may be."""
    if not plate.places:
        return [{"@type": "Place", "name": plate.place_words}] * bool(plate.place_words)
    places = plate.places if plate.place is None else (plate.place,)
    return [_location(plate, place) for place in places]


def _location(plate: HandedPlate, place: Place) -> dict[str, Any]:
    told: dict[str, Any] = {"@type": "Place", "description": CAUTION}
    if plate.place_words:
        told["name"] = plate.place_words
    if place.side_m is not None:
        west, south, east, north = (round(v, 5) for v in square(place).bounds)
        # schema.org writes latitude first.
        told["geo"] = {"@type": "GeoShape", "box": f"{south} {west} {north} {east}"}
        return told
    told["geo"] = {
        "@type": "GeoCoordinates", "latitude": place.lat_deg,
        "longitude": place.lon_deg,
    }  # fmt: skip
    if place.height_m is not None:
        told["geo"]["elevation"] = place.height_m
    told["additionalProperty"] = _properties(plate, place)
    return told


def _properties(plate: HandedPlate, place: Place) -> list[dict[str, Any]]:
    told: list[tuple[str, Any, str]] = [
        ("verdict", plate.answer.verdict if plate.answer else None, ""),
        ("probability", place.probability, ""),
        ("standard error, east", place.sd_east_m, "m"),
        ("standard error, north", place.sd_north_m, "m"),
    ]
    if place.held is not None:
        told += [
            ("looks towards, true bearing", place.held.sight_bearing_deg, "deg"),
            ("looks up", place.held.sight_elevation_deg, "deg"),
            ("sees across", round(view_of(place.held.camera).across_deg, 3), "deg"),
        ]
    return [
        {"@type": "PropertyValue", "name": name, "value": value}
        | ({"unitText": unit} if unit else {})
        for name, value, unit in told
        if value not in (None, "")
    ]


def _thing(feature: Feature, number: str) -> dict[str, Any]:
    told: dict[str, Any] = {
        "@id": number,
        "@type": "Place",
        "identifier": feature.key,
        "name": feature.title,
        "alternateName": list(feature.names[1:]),
        "description": feature.what,
        "geometry": geometry_of(feature.shape),
    }
    return {name: value for name, value in told.items() if value}
