"""Write plates as Dublin Core, with places by the DCMI's own encodings.

The fifteen elements are those of ISO 15836-1:2017; terms are the DCMI Metadata Terms.
Places are DCMI Points and Boxes, which carry longitude and latitude as words.
"""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as Xml
from xml.etree.ElementTree import Element

from wherestood.record.export.handed import HandedOut, HandedPlate
from wherestood.record.export.view import square
from wherestood.record.export.xml_files import write_xml

__all__ = ["write_dublin_core_terms"]

_DC = "http://purl.org/dc/elements/1.1/"
_TERMS = "http://purl.org/dc/terms/"
_XSI = "http://www.w3.org/2001/XMLSchema-instance"
#: Elements, by the catalogue's columns that each is of.
_FROM = {
    "title": ("title",),
    "creator": ("maker",),
    "description": ("description", "inscription", "note"),
    "publisher": ("held by",),
    "format": ("process", "size"),
    "relation": ("collection",),
}


def write_dublin_core_terms(path: Path, handed: HandedOut) -> None:
    """Write a record for each plate."""
    for prefix, space in (("dc", _DC), ("dcterms", _TERMS), ("xsi", _XSI)):
        Xml.register_namespace(prefix, space)
    root = Element("records")
    for plate in handed.plates:
        _record(Xml.SubElement(root, "record"), plate)
    write_xml(path, root)


def _record(record: Element, plate: HandedPlate) -> None:
    def element(name: str, words: str) -> None:
        if words:
            Xml.SubElement(record, f"{{{_DC}}}{name}").text = words

    def term(name: str, words: str, scheme: str = "") -> None:
        if words:
            made = Xml.SubElement(record, f"{{{_TERMS}}}{name}")
            made.text = words
            if scheme:
                made.set(f"{{{_XSI}}}type", f"dcterms:{scheme}")

    row = plate.row
    element("identifier", plate.name)
    for name, columns in _FROM.items():
        for column in columns:
            element(name, row.get(column, ""))
    for word in row.get("subjects", "").split(";"):
        element("subject", word.strip())
    element("date", plate.date_edtf or row.get("date", ""))
    element("type", "StillImage")  # DCMI Type Vocabulary
    element("coverage", plate.place_words)
    for line in plate.credits:
        element("rights", line)
    # EDTF holds W3CDTF's dates, and doubt besides.
    term("created", plate.date_edtf)
    term("rightsHolder", row.get("rights holder", ""))
    term("license", row.get("licence", ""))
    for words, scheme in _spatial(plate):
        term("spatial", words, scheme)
    if plate.withheld:
        term("accessRights", f"Withheld: {'; '.join(plate.withheld)}.")


def _spatial(plate: HandedPlate) -> list[tuple[str, str]]:
    """Return where the camera stood, where one place holds, as the DCMI writes it."""
    place = plate.place or next((p for p in plate.places if not p.is_exact), None)
    if place is None:
        return []
    name = "camera position"
    if place.side_m is not None:
        west, south, east, north = square(place).bounds
        return [
            (
                f"northlimit={north:.5f}; southlimit={south:.5f}; "
                f"eastlimit={east:.5f}; westlimit={west:.5f}; "
                f"units=signed decimal degrees; name=square that holds the {name}",
                "Box",
            )
        ]
    height = "" if place.height_m is None else f"; elevation={place.height_m:.1f}"
    return [
        (
            f"east={place.lon_deg:.7f}; north={place.lat_deg:.7f}{height}; "
            f"units=signed decimal degrees; zunits=metres; name={name}",
            "Point",
        )
    ]
