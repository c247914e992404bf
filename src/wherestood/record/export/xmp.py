"""Make the XMP packet of a plate (ISO 16684-1): where, when, whose, how sure.

Fields are those of the IPTC Photo Metadata Standard 2025.1: *location created* is where
the camera stood, *location shown* what the picture shows. What the standard has no
field for, how doubtful all is, goes into words and into EXIF's positioning error.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from xml.etree import ElementTree as Xml
from xml.etree.ElementTree import Element

from wherestood.record.atomic import write_text_atomically
from wherestood.record.export.handed import Feature, HandedPlate, Place
from wherestood.record.export.layers import CAUTION
from wherestood.record.export.xml_files import xml_text

__all__ = ["told_of_place", "write_xmp", "xmp_packet"]

_SPACES = {
    "x": "adobe:ns:meta/",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
    "dcterms": "http://purl.org/dc/terms/",
    "photoshop": "http://ns.adobe.com/photoshop/1.0/",
    "xmpRights": "http://ns.adobe.com/xap/1.0/rights/",
    "exif": "http://ns.adobe.com/exif/1.0/",
    "Iptc4xmpExt": "http://iptc.org/std/Iptc4xmpExt/2008-02-29/",
}
#: EDTF that XMP's own dates hold: a year, a month or a day, and no doubt of it.
_SIMPLE_DATE = re.compile(r"\d{4}(-\d{2}(-\d{2})?)?")
_PACKET = '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'


def write_xmp(path: Path, plate: HandedPlate, features: Mapping[str, Feature]) -> None:
    """Write the packet as a file beside the picture."""
    write_text_atomically(path, xmp_packet(plate, features))


def xmp_packet(plate: HandedPlate, features: Mapping[str, Feature]) -> str:
    """Return the packet, with its wrapper."""
    for prefix, space in _SPACES.items():
        Xml.register_namespace(prefix, space)
    root = Element(_name("x:xmpmeta"))
    rdf = Xml.SubElement(root, _name("rdf:RDF"))
    about = Xml.SubElement(rdf, _name("rdf:Description"), {_name("rdf:about"): ""})
    row = plate.row
    _language(about, "dc:title", row.get("title", ""))
    _language(about, "dc:description", _description(plate))
    _list(about, "dc:creator", "Seq", [row.get("maker", "")])
    subjects = [word.strip() for word in row.get("subjects", "").split(";")]
    _list(about, "dc:subject", "Bag", subjects)
    _language(about, "dc:rights", " ".join(plate.credits))
    _language(about, "xmpRights:UsageTerms", row.get("licence", ""))
    _text(about, "photoshop:Credit", row.get("credit", ""))
    _text(about, "photoshop:Source", row.get("held by", ""))
    _text(about, "dcterms:identifier", plate.name)
    _text(about, "dcterms:temporal", plate.date_edtf)
    if _SIMPLE_DATE.fullmatch(plate.date_edtf):
        _text(about, "photoshop:DateCreated", plate.date_edtf)
    place = told_of_place(plate)
    if place is not None or plate.place_words:
        _locations(about, "LocationCreated", [_created(plate, place)])
    shown = [features[key] for key in plate.features if key in features]
    _locations(about, "LocationShown", [_shown(one) for one in shown])
    _original(about, plate)
    if place is not None:
        for name, value in _exif(place).items():
            _text(about, f"exif:{name}", value)
    body = xml_text(root).split("\n", 1)[1]
    return f'{_PACKET}{body}<?xpacket end="w"?>\n'


def told_of_place(plate: HandedPlate) -> Place | None:
    """Return the place that a picture may carry: the one that holds, or its square."""
    return plate.place or next((p for p in plate.places if not p.is_exact), None)


def _description(plate: HandedPlate) -> str:
    said = [plate.row.get("description", "")]
    place = told_of_place(plate)
    if place is not None and place.side_m is not None:
        said.append(
            f"Taken somewhere in a square of {place.side_m:g} m about the place told."
        )
    elif place is not None:
        doubt = (
            "" if place.doubt_m is None else f" to within about {place.doubt_m:.0f} m"
        )
        said.append(f"Place{doubt} worked out from the picture. {CAUTION}")
    if plate.withheld:
        said.append(f"Withheld: {'; '.join(plate.withheld)}.")
    return " ".join(part for part in said if part)


def _created(plate: HandedPlate, place: Place | None) -> dict[str, str]:
    told = {"Iptc4xmpExt:Sublocation": plate.place_words}
    if place is not None:
        told |= {f"exif:{name}": value for name, value in _at(place).items()}
    return told


def _shown(feature: Feature) -> dict[str, str]:
    told = {
        "Iptc4xmpExt:LocationName": feature.title,
        "Iptc4xmpExt:Sublocation": feature.what,
    }
    shape = feature.shape
    if shape is not None and shape.geom_type == "Point":
        height_m = feature.height_m
        told |= {
            f"exif:{name}": value
            for name, value in _at(Place(shape.x, shape.y, height_m=height_m)).items()
        }
    return told


def _original(about: Element, plate: HandedPlate) -> None:
    """Tell of the plate itself, of which the file is a copy.

    Its date may be uncertain there, which no date of the file's own may be.
    """
    told = {
        "Iptc4xmpExt:AOSourceInvNo": plate.name,
        "Iptc4xmpExt:AOCircaDateCreated": plate.date_edtf,
        "Iptc4xmpExt:AOSource": plate.row.get("held by", ""),
    }
    _locations(about, "ArtworkOrObject", [told])


def _exif(place: Place) -> dict[str, str]:
    told = _at(place)
    told["GPSMapDatum"] = "WGS-84"
    told["GPSProcessingMethod"] = "MANUAL"
    if place.doubt_m is not None:
        told["GPSHPositioningError"] = f"{round(10 * place.doubt_m)}/10"
    if place.held is not None:
        direction = place.held.sight_bearing_deg % 360.0
        told["GPSImgDirectionRef"] = "T"
        told["GPSImgDirection"] = f"{round(100 * direction) % 36000}/100"
    return told


def _at(place: Place) -> dict[str, str]:
    told = {
        "GPSLatitude": _degrees(place.lat_deg, "NS"),
        "GPSLongitude": _degrees(place.lon_deg, "EW"),
    }
    if place.height_m is not None:
        told["GPSAltitude"] = f"{round(10 * abs(place.height_m))}/10"
        told["GPSAltitudeRef"] = "1" if place.height_m < 0.0 else "0"
    return told


def _degrees(value_deg: float, sides: str) -> str:
    """Return degrees and minutes as XMP has them: ``8,30.7407000E``."""
    side = sides[0] if value_deg >= 0.0 else sides[1]
    whole, part = divmod(abs(value_deg), 1.0)
    minutes = round(60.0 * part, 7)
    if minutes >= 60.0:
        whole, minutes = whole + 1.0, 0.0
    return f"{whole:.0f},{minutes:.7f}{side}"


def _text(about: Element, name: str, words: str) -> None:
    if words:
        Xml.SubElement(about, _name(name)).text = words


def _language(about: Element, name: str, words: str) -> None:
    if words:
        kinds = Xml.SubElement(Xml.SubElement(about, _name(name)), _name("rdf:Alt"))
        one = Xml.SubElement(kinds, _name("rdf:li"))
        one.set("{http://www.w3.org/XML/1998/namespace}lang", "x-default")
        one.text = words


def _list(about: Element, name: str, kind: str, words: Sequence[str]) -> None:
    kept = [word for word in words if word]
    if kept:
        made = Xml.SubElement(Xml.SubElement(about, _name(name)), _name(f"rdf:{kind}"))
        for word in kept:
            Xml.SubElement(made, _name("rdf:li")).text = word


def _locations(about: Element, name: str, told: Sequence[Mapping[str, str]]) -> None:
    """Write structures in an unordered list."""
    kept = [{k: v for k, v in one.items() if v} for one in told]
    kept = [one for one in kept if one]
    if not kept:
        return
    made = Xml.SubElement(
        Xml.SubElement(about, _name(f"Iptc4xmpExt:{name}")), _name("rdf:Bag")
    )
    for one in kept:
        item = Xml.SubElement(made, _name("rdf:li"))
        item.set(_name("rdf:parseType"), "Resource")
        for key, value in one.items():
            # Words in any language are kept apart by it in some of the fields.
            if key in ("Iptc4xmpExt:LocationName",):
                _language(item, key, value)
            else:
                _text(item, key, value)


def _name(tag: str) -> str:
    prefix, name = tag.split(":")
    return f"{{{_SPACES[prefix]}}}{name}"
