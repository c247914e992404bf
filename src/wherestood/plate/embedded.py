"""Read what was written inside a scan's file: EXIF, IPTC and XMP.

What museums write there: title, creator, date, accession number, rights. The three
forms overlap; where they differ XMP counts before IPTC, and IPTC before EXIF, as the
Metadata Working Group advises [1]_.

References
----------
.. [1] Metadata Working Group, "Guidelines for Handling Image Metadata", version 2.0
   (2010), section 2.
.. [2] IPTC, "IIM Version 4.2" (2014), chapters 3 and 6: records and data sets.
.. [3] CIPA DC-008, "Exchangeable image file format", version 2.32 (2019), table 4.
.. [4] ISO 16684-1:2019 (XMP), sections 7 and 8.
"""

from __future__ import annotations

import struct
import warnings
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, ParseError

import pyvips
import rasterio
from charset_normalizer import from_bytes
from defusedxml import ElementTree
from defusedxml.common import DefusedXmlException
from PIL import Image
from rasterio.errors import NotGeoreferencedWarning, RasterioError

from wherestood.errors import PlateError
from wherestood.plate.pixels import open_image

__all__ = ["FIELDS", "Embedded", "read_embedded"]

FIELDS = (
    "title",
    "description",
    "creator",
    "date",
    "accession_number",
    "rights",
    "credit",
    "source",
    "place",
    "subjects",
)
LONGEST_WORDS = 20_000
_DC = "{http://purl.org/dc/elements/1.1/}"
_RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
_PHOTOSHOP = "{http://ns.adobe.com/photoshop/1.0/}"
_IPTC_EXTENSION = "{http://iptc.org/std/Iptc4xmpExt/2008-02-29/}"
_TIFF = "{http://ns.adobe.com/tiff/1.0/}"
_XMP = {
    "title": (f"{_DC}title", f"{_PHOTOSHOP}Headline"),
    "description": (f"{_DC}description",),
    "creator": (f"{_DC}creator", f"{_TIFF}Artist"),
    "date": (f"{_PHOTOSHOP}DateCreated", f"{_DC}date"),
    "accession_number": (
        f"{_IPTC_EXTENSION}AOSourceInvNo",
        f"{_DC}identifier",
        f"{_PHOTOSHOP}TransmissionReference",
    ),
    "rights": (f"{_DC}rights",),
    "credit": (f"{_PHOTOSHOP}Credit",),
    "source": (f"{_IPTC_EXTENSION}AOSource", f"{_DC}source", f"{_PHOTOSHOP}Source"),
    "place": (f"{_DC}coverage", f"{_PHOTOSHOP}City"),
    "subjects": (f"{_DC}subject",),
}
# Data sets of record 2 [2]_.
_IPTC = {
    "title": (5, 105),
    "description": (120,),
    "creator": (80,),
    "date": (55,),
    "accession_number": (103,),
    "rights": (116,),
    "credit": (110,),
    "source": (115,),
    "place": (92, 90),
    "subjects": (25,),
}
# Tags of the first directory [3]_. A scanner's clock says when it scanned, so the
# date of exposure is taken from DateTimeOriginal of the Exif directory alone.
_EXIF = {"description": (0x010E,), "creator": (0x013B,), "rights": (0x8298,)}
_EXIF_DIRECTORY, _DATE_TIME_ORIGINAL = 0x8769, 0x9003
_XP_TITLE, _XP_SUBJECT = 0x9C9B, 0x9C9F
# A description that software writes by itself says nothing of the picture.
_EMPTY_WORDS = frozenset(
    {"olympus digital camera", "digital camera", "untitled", "default", "image"}
)


@dataclass(frozen=True)
class Embedded:
    """Hold what a file says of its picture.

    Attributes
    ----------
    words : dict of str to str
        By the names in `FIELDS`; absent where nothing is said. Several creators or
        subjects are parted by semicolons.
    said_by : dict of str to str
        ``XMP``, ``IPTC`` or ``EXIF`` for each.
    others : dict of str to str
        What the lesser forms say otherwise, as ``IPTC title``.
    notes : tuple of str
        What could not be read.
    """

    words: dict[str, str] = field(default_factory=dict)
    said_by: dict[str, str] = field(default_factory=dict)
    others: dict[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return it as a JSON record, empty where nothing was said."""
        parts = {"words": self.words, "said_by": self.said_by, "others": self.others}
        record: dict[str, Any] = {name: part for name, part in parts.items() if part}
        if self.notes:
            record["notes"] = list(self.notes)
        return record


def read_embedded(path: Path) -> Embedded:
    """Read what is written inside a scan's file; its pixels are left alone.

    Parameters
    ----------
    path : Path
        The scan.

    Raises
    ------
    PlateError
        If it is no image that can be read. Damaged metadata is a note, no error.
    """
    xmp, iptc, exif = _blocks(path)
    notes: list[str] = []
    said: list[tuple[str, dict[str, str]]] = []
    for form, block, read in (
        ("XMP", xmp, _from_xmp),
        ("IPTC", iptc, _from_iptc),
        ("EXIF", exif, _from_exif),
    ):
        if not block:
            continue
        try:
            said.append((form, read(block)))
        except _UnreadableError as error:
            notes.append(f"Its {form} cannot be read: {error}.")
    words: dict[str, str] = {}
    said_by: dict[str, str] = {}
    others: dict[str, str] = {}
    for form, found in said:
        for name, value in found.items():
            if name not in words:
                words[name], said_by[name] = value, form
            elif value != words[name]:
                others[f"{form} {name}"] = value
    return Embedded(words, said_by, others, tuple(notes))


class _UnreadableError(Exception):
    """Tell that one form of metadata is damaged."""


def _blocks(path: Path) -> tuple[bytes, bytes, bytes]:
    """Return the raw XMP, IPTC and EXIF of a file, empty where it has none."""
    if open_image(path).jpeg_2000:
        return _blocks_of_jpeg_2000(path), b"", b""
    try:
        image = pyvips.Image.new_from_file(str(path), access="sequential")
        return (
            _block(image, "xmp-data"),
            _block(image, "iptc-data"),
            _block(image, "exif-data"),
        )
    except pyvips.Error as error:
        raise PlateError(
            f"The scan '{path.name}' cannot be read.", "Copy it again from its source."
        ) from error


def _block(image: pyvips.Image, name: str) -> bytes:
    return bytes(image.get(name)) if image.get_typeof(name) else b""


def _blocks_of_jpeg_2000(path: Path) -> bytes:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            with rasterio.open(path, driver="JP2OpenJPEG") as data:
                packet = data.tags(ns="xml:XMP")
    except RasterioError:
        return b""
    return next(iter(packet.values()), "").encode("utf-8")


def _from_xmp(packet: bytes) -> dict[str, str]:
    try:
        root = ElementTree.fromstring(packet.strip(b"\x00 \r\n\t"))
    except (ParseError, DefusedXmlException, ValueError) as error:
        raise _UnreadableError(_first_line(error)) from error
    found: dict[str, str] = {}
    for name, tags in _XMP.items():
        for tag in tags:
            value = _joined(_values(root, tag))
            if value:
                found[name] = value
                break
    return found


def _values(root: Element, tag: str) -> Iterator[str]:
    """Return a property's values: as an attribute, as text, or as a list of items."""
    for element in root.iter():
        if tag in element.attrib:
            yield element.attrib[tag]
        if element.tag != tag:
            continue
        items = list(element.iter(f"{_RDF}li"))
        if not items:
            yield element.text or ""
        elif element.find(f"{_RDF}Alt") is not None:
            # One thing in several languages: the default one.
            language = "{http://www.w3.org/XML/1998/namespace}lang"
            default = [i for i in items if i.get(language) == "x-default"]
            yield (default or items)[0].text or ""
        else:
            yield from (item.text or "" for item in items)


def _from_iptc(block: bytes) -> dict[str, str]:
    sets = list(_data_sets(_iim_of(block)))
    utf8 = any(r == 1 and n == 90 and value == b"\x1b%G" for r, n, value in sets)
    found: dict[str, str] = {}
    for name, numbers in _IPTC.items():
        for number in numbers:
            parts = [v for record, n, v in sets if record == 2 and n == number]
            value = _joined(_text(part, utf8) for part in parts)
            if value:
                found[name] = _spoken_date(value) if name == "date" else value
                break
    return found


def _iim_of(block: bytes) -> bytes:
    """Return the data sets, out of Photoshop's image resources where they lie there."""
    place = block.find(b"8BIM\x04\x04")
    if place < 0:
        return block
    name = place + 6
    start = name + 1 + block[name] if name < len(block) else len(block)
    start += (start - name) % 2
    if start + 4 > len(block):
        raise _UnreadableError("it ends too soon")
    (length,) = struct.unpack(">I", block[start : start + 4])
    return block[start + 4 : start + 4 + length]


def _data_sets(block: bytes) -> Iterator[tuple[int, int, bytes]]:
    place = block.find(b"\x1c")
    while 0 <= place <= len(block) - 5 and block[place] == 0x1C:
        record, number = block[place + 1], block[place + 2]
        (length,) = struct.unpack(">H", block[place + 3 : place + 5])
        place += 5
        if length & 0x8000:  # an extended data set: the length has its own length
            wide = length & 0x7FFF
            length = int.from_bytes(block[place : place + wide], "big")
            place += wide
        if place + length > len(block):
            raise _UnreadableError("it ends too soon")
        yield record, number, block[place : place + length]
        place += length


def _text(value: bytes, utf8: bool) -> str:
    try:
        return value.decode("utf-8")
    except UnicodeDecodeError:
        if utf8:
            return value.decode("utf-8", "replace")
    best = from_bytes(value).best()
    return value.decode(best.encoding if best else "latin-1", "replace")


def _from_exif(block: bytes) -> dict[str, str]:
    exif = Image.Exif()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            exif.load(block)
            tags = dict(exif)
            inner = dict(exif.get_ifd(_EXIF_DIRECTORY))
    except Exception as error:  # Pillow raises whatever damaged bytes lead it to
        raise _UnreadableError(_first_line(error)) from error
    found = {}
    for name, numbers in _EXIF.items():
        value = _joined(_exif_words(tags.get(number)) for number in numbers)
        if value and value.lower() not in _EMPTY_WORDS:
            found[name] = value
    for name, number in (("title", _XP_TITLE), ("subjects", _XP_SUBJECT)):
        value = _utf16(tags.get(number))
        if value:
            found[name] = value
    taken = _exif_words(inner.get(_DATE_TIME_ORIGINAL))
    if taken.strip(" :0"):
        found["date"] = _spoken_date(taken)
    return found


def _exif_words(value: Any) -> str:
    if isinstance(value, bytes):
        return _text(value.split(b"\x00")[0], False)
    return value.split("\x00")[0] if isinstance(value, str) else ""


def _utf16(value: Any) -> str:
    """Read the words that Windows writes as bytes of UTF-16."""
    if isinstance(value, tuple) and all(isinstance(part, int) for part in value):
        value = bytes(value)
    if not isinstance(value, bytes):
        return ""
    return _clean(value.decode("utf-16-le", "replace").split("\x00")[0])


def _spoken_date(words: str) -> str:
    """Write ``1898:05:01 12:00:00`` and ``18980501`` as ISO 8601 dates."""
    digits = words.strip()
    if len(digits) == 8 and digits.isdecimal():
        year, month, day = digits[:4], digits[4:6], digits[6:]
        return "-".join(part for part in (year, month, day) if part.strip("0"))
    if len(digits) >= 10 and digits[4:5] == ":" and digits[7:8] == ":":
        return digits[:10].replace(":", "-")
    return words


def _joined(values: Iterable[str]) -> str:
    kept: list[str] = []
    for value in values:
        clean = _clean(value)
        if clean and clean not in kept:
            kept.append(clean)
    return "; ".join(kept)[:LONGEST_WORDS]


def _clean(text: str) -> str:
    """Take out what no person wrote: control characters and spaces at the ends."""
    kept = "".join(c if c.isprintable() or c == "\n" else " " for c in text)
    return kept.strip()


def _first_line(error: BaseException) -> str:
    told = str(error).strip() or type(error).__name__
    return told.splitlines()[0].rstrip(".")
