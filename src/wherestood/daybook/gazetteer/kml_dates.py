"""Keep the dates of a KML file as they are written.

GDAL reads the beginning and end of a span as days, and drops a year or a month alone,
which KML allows (OGC 12-007r2, 15.2: xsd:gYear, xsd:gYearMonth) and which is what is
known of most buildings.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from xml.etree.ElementTree import Element, ParseError, SubElement, tostring

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

__all__ = ["with_dates_as_written"]

#: A larger file is read as it is: the whole is held in memory.
_LARGEST_BYTES = 100_000_000
_NAMES = {"begin": "start_date", "end": "end_date"}


@contextmanager
def with_dates_as_written(path: Path) -> Iterator[Path]:
    """Give a file in which the dates of spans are fields of plain words.

    Parameters
    ----------
    path : Path
        A KML file.

    Yields
    ------
    Path
        A passing file of the same name, after which its layer may be called; the path
        itself where there is no span, or the file cannot be read as XML.
    """
    told = _dates_as_fields(path)
    if told is None:
        yield path
        return
    with tempfile.TemporaryDirectory(prefix="wherestood-") as passing:
        place = Path(passing) / path.name
        place.write_bytes(told)
        yield place


def _dates_as_fields(path: Path) -> bytes | None:
    if path.stat().st_size > _LARGEST_BYTES:
        return None
    held = path.read_bytes()
    if b"TimeSpan" not in held:
        return None
    try:
        root: Element = fromstring(held)
    except (ParseError, DefusedXmlException, ValueError):
        return None
    for placemark in [one for one in root.iter() if _name(one) == "Placemark"]:
        for span in [one for one in placemark if _name(one) == "TimeSpan"]:
            _told_in_words(placemark, span)
            placemark.remove(span)
    # Without prefixes, as it came: GDAL knows such a file for a KML.
    namespace = root.tag.rpartition("}")[0]
    for one in root.iter():
        if namespace and str(one.tag).startswith(f"{namespace}}}"):
            one.tag = _name(one)
    if namespace:
        root.set("xmlns", namespace.lstrip("{"))
    return bytes(tostring(root, encoding="utf-8", xml_declaration=True))


def _told_in_words(placemark: Element, span: Element) -> None:
    namespace = placemark.tag.rpartition("}")[0]
    prefix = f"{namespace}}}" if namespace else ""
    known = [one for one in placemark if _name(one) == "ExtendedData"]
    more = known[0] if known else SubElement(placemark, f"{prefix}ExtendedData")
    for one in span:
        if (field := _NAMES.get(_name(one))) and one.text:
            told = SubElement(more, f"{prefix}Data", {"name": field})
            SubElement(told, f"{prefix}value").text = one.text.strip()


def _name(element: Element) -> str:
    return str(element.tag).rpartition("}")[2]
