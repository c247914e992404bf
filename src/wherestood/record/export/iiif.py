"""Write plates as IIIF Presentation 3 manifests, with W3C Web Annotations.

Marks and what they are taken to be are annotations of the canvas, which is as large as
the scan; the station is the manifest's navPlace. Readers find a manifest and its
picture by addresses on the web, so that these must be told.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import quote

from PIL import Image
from shapely.geometry import Point

from wherestood.record.atomic import write_text_atomically
from wherestood.record.export.geojson import geometry_of
from wherestood.record.export.handed import (
    Feature,
    HandedOut,
    HandedPlate,
    Marked,
    Picture,
)
from wherestood.record.export.layers import CAUTION
from wherestood.record.export.view import square

__all__ = ["NOWHERE", "write_iiif"]

#: Stands for the address where none is told: ``invalid`` never leads anywhere
#: (RFC 6761, 6.4), and can be replaced in all files at once.
NOWHERE = "https://put-your-address-here.invalid"
_CONTEXT = "http://iiif.io/api/presentation/3/context.json"
_NAV_PLACE = "http://iiif.io/api/extension/navplace/context.json"
#: Licences that a manifest may name as its rights (Presentation 3.0, 3.1, rights).
_RIGHTS = ("http://creativecommons.org/", "http://rightsstatements.org/")


def write_iiif(folder: Path, handed: HandedOut, address: str) -> None:
    """Write a manifest for each plate with a picture, and a collection of them all.

    Parameters
    ----------
    folder : Path
        In which ``pictures`` are; the manifests go into ``iiif`` there.
    handed : HandedOut
    address : str
        Where the folder will be found on the web.
    """
    root = (address or NOWHERE).rstrip("/")
    shown = [plate for plate in handed.plates if plate.picture is not None]
    if not shown:
        return
    (folder / "iiif").mkdir()
    stems = handed.stems()
    features = {one.key: one for one in handed.features}
    items = []
    for plate in shown:
        stem = stems[plate.name]
        with Image.open(folder / "pictures" / f"{stem}.jpg") as picture:
            size_px = picture.size
        made = _manifest(plate, features, root, stem, size_px)
        _write(folder / "iiif" / f"{stem}.json", made)
        items.append(
            {"id": made["id"], "type": "Manifest", "label": made["label"]},
        )
    whole = {
        "@context": _CONTEXT,
        "id": f"{root}/iiif/collection.json",
        "type": "Collection",
        "label": _words(handed.title),
        "items": items,
    }
    _write(folder / "iiif" / "collection.json", whole)


def _manifest(
    plate: HandedPlate,
    features: Mapping[str, Feature],
    root: str,
    stem: str,
    size_px: tuple[int, int],
) -> dict[str, Any]:
    assert plate.picture is not None
    at = f"{root}/iiif/{quote(stem)}"
    made: dict[str, Any] = {
        "@context": [_NAV_PLACE, _CONTEXT],
        "id": f"{at}.json",
        "type": "Manifest",
        "label": _words(plate.title),
        "metadata": _metadata(plate),
        "requiredStatement": {
            "label": _plainly("Rights and credits"),
            "value": _words(" ".join(plate.credits) or "UNKNOWN"),
        },
        "items": [_canvas(plate, plate.picture, features, root, stem, size_px)],
    }
    if plate.row.get("description"):
        made["summary"] = _words(plate.row["description"])
    licence = plate.row.get("licence", "").replace("https://", "http://")
    if licence.startswith(_RIGHTS):
        made["rights"] = licence
    places = _nav_place(plate, at)
    if places:
        made["navPlace"] = places
    return made


def _canvas(
    plate: HandedPlate,
    picture: Picture,
    features: Mapping[str, Feature],
    root: str,
    stem: str,
    size_px: tuple[int, int],
) -> dict[str, Any]:
    at = f"{root}/iiif/{quote(stem)}"
    canvas = f"{at}/canvas"
    painted = {
        "id": f"{at}/canvas/painted/picture",
        "type": "Annotation",
        "motivation": "painting",
        "body": {
            "id": f"{root}/pictures/{quote(stem)}.jpg",
            "type": "Image",
            "format": "image/jpeg",
            "width": size_px[0],
            "height": size_px[1],
        },
        "target": canvas,
    }
    made: dict[str, Any] = {
        "id": canvas,
        "type": "Canvas",
        "label": _words(plate.title),
        "width": picture.width_px,
        "height": picture.height_px,
        "items": [
            {"id": f"{canvas}/painted", "type": "AnnotationPage", "items": [painted]}
        ],
    }
    if plate.marks:
        notes = [
            _note(mark, features, f"{canvas}/marks/{number}", canvas)
            for number, mark in enumerate(plate.marks, start=1)
        ]
        made["annotations"] = [
            {
                "id": f"{canvas}/marks",
                "type": "AnnotationPage",
                "label": _plainly("What is marked"),
                "items": notes,
            }
        ]
    return made


def _note(
    mark: Marked, features: Mapping[str, Feature], at: str, canvas: str
) -> dict[str, Any]:
    words = f"{mark.key}: {mark.words}" if mark.words else mark.key
    feature = features.get(mark.feature)
    if feature is not None:
        words += f" ({feature.title})"
    return {
        "id": at,
        "type": "Annotation",
        "motivation": "identifying" if feature is not None else "commenting",
        "body": {"type": "TextualBody", "value": words, "format": "text/plain"},
        "target": {
            "type": "SpecificResource",
            "source": canvas,
            "selector": _selector(mark),
        },
    }


def _selector(mark: Marked) -> dict[str, Any]:
    """Return where a mark is on the canvas, in pixels of the scan."""
    if len(mark.points_px) == 1:
        ((x, y),) = mark.points_px
        return {"type": "PointSelector", "x": round(x), "y": round(y)}
    path = "L".join(f"{x:g},{y:g}" for x, y in mark.points_px)
    closed = "Z" if mark.shape == "outline" else ""
    drawn = (
        '<svg xmlns="http://www.w3.org/2000/svg"><path fill="none" stroke="#A23B2A" '
        f'd="M{path}{closed}"/></svg>'
    )
    return {"type": "SvgSelector", "value": drawn}


def _metadata(plate: HandedPlate) -> list[dict[str, Any]]:
    told = [
        ("Accession number", plate.name),
        ("Maker", plate.row.get("maker", "")),
        ("Exposed (EDTF)", plate.date_edtf),
        ("Held by", plate.row.get("held by", "")),
        ("Place", plate.place_words),
        ("Place published", plate.precision if plate.precision != "exact" else ""),
        ("Withheld", "; ".join(plate.withheld)),
        ("How far the place holds", CAUTION if plate.places else ""),
    ]
    return [
        {"label": _plainly(name), "value": _words(words)}
        for name, words in told
        if words
    ]


def _nav_place(plate: HandedPlate, at: str) -> dict[str, Any] | None:
    """Return where the camera stood, as far as one place or a square is told."""
    place = plate.place or next((p for p in plate.places if not p.is_exact), None)
    if place is None:
        return None
    if place.is_exact:
        shape = geometry_of(Point(place.lon_deg, place.lat_deg))
        label = "Where the camera stood"
    else:
        shape = geometry_of(square(place))
        label = "A square that holds where the camera stood"
    return {
        "id": f"{at}/places",
        "type": "FeatureCollection",
        "features": [
            {
                "id": f"{at}/places/1",
                "type": "Feature",
                "properties": {"label": _plainly(label)},
                "geometry": shape,
            }
        ],
    }


def _words(text: str) -> dict[str, list[str]]:
    return {"none": [text]}  # whose language nobody recorded


def _plainly(text: str) -> dict[str, list[str]]:
    return {"en": [text]}


def _write(path: Path, form: dict[str, Any]) -> None:
    text = json.dumps(form, indent=1, ensure_ascii=False, allow_nan=False)
    write_text_atomically(path, text + "\n")
