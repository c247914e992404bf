"""Write what is told of a plate into a copy of its picture, pixels untouched.

The picture's compressed data are not decoded: only the metadata beside them change.
What the copy already carries stays, unless it is told otherwise here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import exiv2

from wherestood.errors import PlateError
from wherestood.record.export.handed import Feature, HandedPlate, Place
from wherestood.record.export.xmp import told_of_place, xmp_packet

__all__ = ["EMBEDDED_SUFFIXES", "embed"]

#: Files into which metadata can be written.
EMBEDDED_SUFFIXES = (
    ".jpg", ".jpeg", ".tif", ".tiff", ".png", ".webp", ".jp2",
)  # fmt: skip
_DAY = re.compile(r"(\d{4})-(\d{2})-(\d{2})")
#: Of seconds of arc: about three millimetres.
_SECOND_PARTS = 10_000


def embed(copy: Path, plate: HandedPlate, features: Mapping[str, Feature]) -> None:
    """Write XMP and EXIF into a file that is a copy, in place.

    Raises
    ------
    PlateError
        If it is of a kind, or in a state, into which nothing can be written.
    """
    try:
        picture = exiv2.ImageFactory.open(str(copy))
        picture.readMetadata()
        packet = exiv2.ImageFactory.open(xmp_packet(plate, features).encode())
        packet.readMetadata()
        told = packet.xmpData()
        kept = picture.xmpData()
        # A structure told anew replaces the old one whole.
        ours = {re.split(r"[\[/]", datum.key())[0] for datum in told}
        merged = exiv2.XmpData()
        for datum in kept:
            if re.split(r"[\[/]", datum.key())[0] not in ours:
                merged.add(datum)
        for datum in told:
            merged.add(datum)
        picture.setXmpData(merged)
        exif = picture.exifData()
        _exif(exif, plate)
        picture.setExifData(exif)
        picture.writeMetadata()
    except exiv2.Exiv2Error as error:
        raise PlateError(
            f"Nothing can be written into {copy.name!r} ({error}).",
            "Use the file of metadata beside it.",
        ) from error


def _exif(exif: exiv2.ExifData, plate: HandedPlate) -> None:
    place = told_of_place(plate)
    if place is not None:
        for name, value in _gps(place).items():
            exif[f"Exif.GPSInfo.{name}"] = value
    day = _DAY.fullmatch(plate.date_edtf)
    if day is not None:
        # EXIF 2.32: what is not known is filled with spaces, the colons stay.
        exif["Exif.Photo.DateTimeOriginal"] = f"{':'.join(day.groups())}   :  :  "


def _gps(place: Place) -> dict[str, str]:
    """Return the GPS fields as exiv2 reads them from words."""
    told = {
        "GPSVersionID": "2 3 0 0",
        "GPSLatitudeRef": "N" if place.lat_deg >= 0.0 else "S",
        "GPSLatitude": _degrees(place.lat_deg),
        "GPSLongitudeRef": "E" if place.lon_deg >= 0.0 else "W",
        "GPSLongitude": _degrees(place.lon_deg),
        "GPSMapDatum": "WGS-84",
        # Nobody stood there with a receiver.
        "GPSProcessingMethod": "charset=Ascii MANUAL",
    }
    if place.height_m is not None:
        told["GPSAltitudeRef"] = "1" if place.height_m < 0.0 else "0"
        told["GPSAltitude"] = f"{round(10 * abs(place.height_m))}/10"
    if place.doubt_m is not None:
        told["GPSHPositioningError"] = f"{round(10 * place.doubt_m)}/10"
    if place.held is not None:
        direction = round(100 * (place.held.sight_bearing_deg % 360.0)) % 36000
        told["GPSImgDirectionRef"] = "T"
        told["GPSImgDirection"] = f"{direction}/100"
    return told


def _degrees(value_deg: float) -> str:
    parts = round(abs(value_deg) * 3600 * _SECOND_PARTS)
    minutes, seconds = divmod(parts, 60 * _SECOND_PARTS)
    degrees, minutes = divmod(minutes, 60)
    return f"{degrees}/1 {minutes}/1 {seconds}/{_SECOND_PARTS}"
