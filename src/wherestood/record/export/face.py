"""Say on the face of what is handed out what it is, and what is withheld."""

from __future__ import annotations

import textwrap
from collections.abc import Collection
from pathlib import Path

from wherestood.record.atomic import write_text_atomically
from wherestood.record.export.handed import HandedOut, HandedPlate
from wherestood.record.export.layers import CAUTION

__all__ = ["FULL", "GIVEN_AWAY", "PUBLIC", "face_of", "write_face"]

_WIDE = 78
GIVEN_AWAY = (
    "THE PICTURE ITSELF MAY STILL GIVE THE PLACE AWAY. Hills, houses and shores can be "
    "recognised, by people and by programs such as the one that made this. If a place "
    "must not be found, do not publish its picture."
)
PUBLIC = (
    "This is a public copy. Of plates whose place may not be published as it is known, "
    "everything is left out from which the place could be worked out again."
)
FULL = (
    "FULL, RESTRICTED. This holds every place as it is known, what is withheld from a "
    "public copy too. Hand it to nobody who may not know it, and publish none of it "
    "as it is."
)
_FILES = {
    "geojson": ("places.geojson",),
    "geopackage": ("places.gpkg",),
    "kml": ("places.kml",),
    "gpx": ("places.gpx",),
    "csv": ("plates.csv", "stations.csv", "regions.csv", "views.csv", "features.csv"),
    "xlsx": ("plates.xlsx",),
    "geopose": ("geopose/",),
    "dublin-core": ("plates.dublin-core.xml",),
    "json-ld": ("plates.jsonld",),
    "iiif": ("iiif/",),
    "page": ("index.html", "page/"),
    "xmp": ("xmp/",),
    "embedded": ("embedded/",),
}


def write_face(folder: Path, handed: HandedOut, names: Collection[str]) -> None:
    """Write ``README.txt``; of files it names those that are there."""
    write_text_atomically(folder / "README.txt", face_of(handed, folder, names))


def face_of(handed: HandedOut, folder: Path, names: Collection[str]) -> str:
    """Return the page of plain words."""
    made = (
        f"Made {handed.made[:10]} by wherestood {handed.version}."
        if handed.made
        else ""
    )
    parts = [
        _headed(handed.title, "="),
        made,
        _filled(PUBLIC if handed.is_public else FULL),
        _headed("What is here", "-"),
        "\n".join(_files(folder, names)),
        _headed("How to read it", "-"),
        _filled(
            f"{CAUTION} A bearing is true, "
            "clockwise from north. Heights are in the elevation model's own vertical "
            "datum. Where a square is told, the place lies somewhere in it."
        ),
    ]
    parts += _withheld(handed)
    parts += [_headed("Rights and credits", "-"), *_rights(handed)]
    return "\n\n".join(part for part in parts if part) + "\n"


def _withheld(handed: HandedOut) -> list[str]:
    told = [plate for plate in handed.plates if plate.withheld]
    if not told and not handed.is_public:
        return []
    lines = [_headed("What is withheld", "-")]
    if not told:
        lines.append("Nothing of these plates.")
    for plate in told:
        how = f"place published: {plate.precision}"
        lines.append(_filled(f"{plate.name} ({how}): {', '.join(plate.withheld)}."))
    if any(plate.picture for plate in told):
        lines.append(_filled(GIVEN_AWAY))
    return lines


def _rights(handed: HandedOut) -> list[str]:
    lines = [_credit(plate) for plate in handed.plates]
    lines += [_filled(one) for one in handed.credits]
    lines.append(
        _filled(
            "Rights that nobody recorded read UNKNOWN. Old does not mean free: ask the "
            "holder. This is no legal advice."
        )
    )
    return lines


def _credit(plate: HandedPlate) -> str:
    return _filled(f"{plate.name}: {' '.join(plate.credits) or 'UNKNOWN'}")


def _files(folder: Path, names: Collection[str]) -> list[str]:
    from wherestood.record.export.formats import FORMATS

    lines = []
    for name in names:
        there = [file for file in _FILES[name] if (folder / file).exists()]
        if there:
            lines.append(_filled(f"{', '.join(there)}: {FORMATS[name]}", "  "))
    if (folder / "report").is_dir():
        words = "the report, to read (PDF, HTML) and to edit (DOCX, ODT)"
        lines.append(f"  report/: {words}")
    if (folder / "pictures").is_dir():
        lines.append("  pictures/: a picture of each plate that may have one")
    return lines


def _headed(text: str, mark: str) -> str:
    return f"{text}\n{mark * len(text)}"


def _filled(text: str, before: str = "") -> str:
    return textwrap.fill(
        text,
        _WIDE,
        initial_indent=before,
        subsequent_indent=before + "  " * bool(before),
    )
