"""Read and write a catalogue as Dublin Core, in XML and as a simple table.

The fifteen elements are those of ISO 15836-1:2017. Written are records of the form
that OAI-PMH carries (``oai_dc``), several in one file; read is any XML in which
elements of Dublin Core stand together.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from xml.etree import ElementTree as Writing
from xml.etree.ElementTree import Element, ParseError

from defusedxml import ElementTree
from defusedxml.common import DefusedXmlException

from wherestood.daybook.forced import force_file, force_folder
from wherestood.daybook.sheets import Refusal, Sheet
from wherestood.daybook.sheets.sheet import as_sheet
from wherestood.errors import InputError

__all__ = ["COLUMNS", "ELEMENTS", "dublin_core_cells", "dublin_core_of",
           "read_dublin_core", "write_dublin_core"]  # fmt: skip

ELEMENTS = (
    "identifier", "title", "creator", "subject", "description", "publisher",
    "contributor", "date", "type", "format", "source", "language", "relation",
    "coverage", "rights",
)  # fmt: skip
_DC = "http://purl.org/dc/elements/1.1/"
_TERMS = "http://purl.org/dc/terms/"
_OAI = "http://www.openarchives.org/OAI/2.0/oai_dc/"
LARGEST_BYTES = 500_000_000
# Columns of the catalogue that an element carries; several make several elements.
_FROM = {
    "identifier": ("accession number", "negative number"),
    "title": ("title",),
    "creator": ("maker",),
    "description": ("description", "inscription", "note"),
    "publisher": ("held by",),
    "date": ("date",),
    "format": ("process", "size"),
    "relation": ("collection",),
    "coverage": ("place",),
    "rights": ("rights", "licence", "rights holder", "credit"),
}


#: Columns of a table of Dublin Core.
COLUMNS = ("dc:identifier", "dc:identifier 2", *(f"dc:{name}" for name in ELEMENTS[1:]))


def dublin_core_of(row: Mapping[str, str]) -> dict[str, list[str]]:
    """Return the elements of a row that `catalogue_rows` gave, several of one kind.

    The first identifier is the accession number.
    """
    found = {
        element: [row[c] for c in columns if row.get(c)]
        for element, columns in _FROM.items()
    }
    found["subject"] = [p.strip() for p in row.get("subjects", "").split(";") if p]
    found["type"] = ["StillImage"]  # DCMI Type Vocabulary
    return {element: found[element] for element in ELEMENTS if found.get(element)}


def dublin_core_cells(row: Mapping[str, str]) -> dict[str, str]:
    """Return a row that `catalogue_rows` gave as the cells of `COLUMNS`.

    Values of one element are parted by semicolons, but for identifiers: the first
    stands alone, since it is the plate's.
    """
    elements = dublin_core_of(row)
    first, *others = elements.pop("identifier", [""])
    cells = {f"dc:{name}": "; ".join(elements.get(name, ())) for name in ELEMENTS}
    return cells | {"dc:identifier": first, "dc:identifier 2": "; ".join(others)}


def write_dublin_core(path: Path, rows: Iterable[Mapping[str, str]]) -> int:
    """Write rows that `catalogue_rows` gave as Dublin Core XML.

    Returns
    -------
    int
        How many.

    Raises
    ------
    InputError
        If it cannot be written; an older file then stays.
    """
    Writing.register_namespace("dc", _DC)
    Writing.register_namespace("oai_dc", _OAI)
    root = Writing.Element("records")
    count = 0
    for row in rows:
        record = Writing.SubElement(root, f"{{{_OAI}}}dc")
        for element, values in dublin_core_of(row).items():
            for value in values:
                Writing.SubElement(record, f"{{{_DC}}}{element}").text = value
        count += 1
    Writing.indent(root)
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        passing = Path(name)
        try:
            with os.fdopen(handle, "wb") as stream:
                Writing.ElementTree(root).write(
                    stream, encoding="utf-8", xml_declaration=True
                )
            mask = os.umask(0)
            os.umask(mask)
            passing.chmod(0o666 & ~mask)
            force_file(passing)
            passing.replace(path)
            force_folder(path.parent)
        finally:
            passing.unlink(missing_ok=True)
    except OSError as error:
        raise InputError(
            f"The file {str(path)!r} cannot be written ({error.strerror}).",
            "Choose another folder.",
        ) from error
    return count


def read_dublin_core(path: Path) -> Sheet:
    """Read Dublin Core XML as a table with the columns ``dc:title`` and so on.

    Values of one element that stands several times are parted by semicolons; of
    several identifiers the first counts, and the others are in ``dc:identifier 2``.

    Raises
    ------
    InputError
        If it is no XML, holds entities, or nothing of Dublin Core.
    """
    if not path.is_file():
        raise InputError(f"There is no file {str(path)!r}.", "Check its name.")
    if path.stat().st_size > LARGEST_BYTES:
        raise InputError(
            f"The file {path.name!r} is larger than {LARGEST_BYTES / 1e6:.0f} MB.",
            "Part it into several.",
        )
    try:
        root = ElementTree.parse(path).getroot()
    except DefusedXmlException as error:
        raise InputError(
            f"The file {path.name!r} defines entities of its own, which no catalogue "
            "needs.",
            "Have it exported again without them.",
        ) from error
    except (ParseError, ValueError, LookupError) as error:
        raise InputError(
            f"The file {path.name!r} is no XML that can be read: {error}.",
            "Have it exported again.",
        ) from error
    records = [element for element in root.iter() if _is_record(element)]
    if not records:
        raise InputError(
            f"The file {path.name!r} holds no Dublin Core.",
            "Elements such as dc:title were expected.",
        )

    def rows() -> Iterator[tuple[int, Sequence[str] | Refusal]]:
        yield 0, COLUMNS
        for number, record in enumerate(records, 1):
            yield number, _cells(record)

    return as_sheet(path.name, rows(), ("read as Dublin Core",))


def _is_record(element: Element) -> bool:
    return any(_name_of(child) in ELEMENTS for child in element)


def _name_of(element: Element) -> str:
    for space in (_DC, _TERMS):
        if str(element.tag).startswith(f"{{{space}}}"):
            return str(element.tag).removeprefix(f"{{{space}}}")
    return ""


def _cells(record: Element) -> list[str]:
    found: dict[str, list[str]] = {}
    for child in record:
        words = "".join(child.itertext()).strip()
        if words:
            found.setdefault(_name_of(child), []).append(words)
    identifiers = found.pop("identifier", [])
    first, others = identifiers[:1], identifiers[1:]
    others_joined = "; ".join(others)
    rest = ["; ".join(found.get(name, ())) for name in ELEMENTS[1:]]
    return ["".join(first), others_joined, *rest]
