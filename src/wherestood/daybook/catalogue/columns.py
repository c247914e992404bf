"""Tell what the columns of a catalogue mean."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from wherestood.errors import InputError

__all__ = ["MEANINGS", "CatalogueColumns", "signature_of", "tell_columns"]

#: What a column may mean, and the names by which it is known without being told: those
#: that the catalogue is given out with, Dublin Core's [1]_, and those common in
#: museums' exports (common practice).
#:
#: .. [1] Dublin Core Metadata Initiative, "DCMI Metadata Terms" (2020), section 3.
MEANINGS: dict[str, tuple[str, ...]] = {
    "key": (
        "key", "accession number", "accession no", "accession no.", "object number",
        "object no", "inventory number", "inv. no.", "identifier", "dc:identifier",
        "reference number", "catalogue number", "item id", "id",
    ),
    "title": ("title", "dc:title", "object title", "name"),
    "description": ("description", "dc:description", "abstract", "caption"),
    "maker": (
        "maker", "creator", "dc:creator", "photographer", "artist", "author",
    ),
    "date": ("date", "dc:date", "date made", "date of creation", "production date"),
    "place": (
        "place", "dc:coverage", "coverage", "location", "place depicted", "locality",
    ),
    "held by": (
        "held by", "repository", "institution", "holder", "owner", "dc:publisher",
    ),
    "collection": ("collection", "album", "series", "fonds", "dc:relation"),
    "subjects": ("subjects", "subject", "dc:subject", "keywords", "tags"),
    "negative number": (
        "negative number", "negative no", "plate number", "dc:identifier 2",
    ),
    "inscription": ("inscription", "inscriptions", "marks"),
    "process": ("process", "technique", "medium", "dc:format", "format"),
    "size": ("size", "plate size", "dimensions", "measurements"),
    "note": ("note", "notes", "remarks"),
    "rights": ("rights", "dc:rights", "copyright", "rights statement"),
    "rights holder": ("rights holder", "copyright holder"),
    "licence": ("licence", "license"),
    "credit": ("credit", "credit line"),
    "file": ("file", "filename", "file name", "scan", "image", "digital file"),
}  # fmt: skip


@dataclass(frozen=True)
class CatalogueColumns:
    """Hold which column has which meaning.

    Attributes
    ----------
    by_meaning : dict of str to str
        Column by meaning.
    unused : tuple of str
        Columns that are kept as they came and otherwise left alone.
    """

    by_meaning: dict[str, str]
    unused: tuple[str, ...]

    def as_told(self) -> dict[str, str]:
        """Return meaning by column, so that it can be told again."""
        told = dict.fromkeys(self.unused, "")
        return told | {c: meaning for meaning, c in self.by_meaning.items()}


def signature_of(columns: Iterable[str]) -> str:
    """Return what a file of the same columns is known again by."""
    return "|".join(sorted(column.strip().casefold() for column in columns))


def tell_columns(
    columns: Iterable[str],
    told: Mapping[str, str] | None = None,
    remembered: Mapping[str, str] | None = None,
) -> CatalogueColumns:
    """Tell columns by what a person says now, said before, or by their names.

    Parameters
    ----------
    columns : iterable of str
        All columns.
    told : mapping of str to str, optional
        Meaning by column; an empty meaning leaves the column alone.
    remembered : mapping of str to str, optional
        The same, as it was told for a file of the same columns before.

    Raises
    ------
    InputError
        If a column is not there, a meaning is none or told twice, or no column has
        the accession number.
    """
    present = list(columns)
    said = {**(remembered or {}), **(told or {})}
    by_meaning: dict[str, str] = {}
    for column, meaning in said.items():
        if column not in present:
            raise InputError(
                f"There is no column {column!r}.", f"There are: {', '.join(present)}."
            )
        if not meaning:
            continue
        if meaning not in MEANINGS:
            raise InputError(
                f"A column cannot mean {meaning!r}.",
                f"It can mean: {', '.join(MEANINGS)}.",
            )
        if meaning in by_meaning:
            raise InputError(
                f"Two columns are to mean {meaning!r}: {by_meaning[meaning]!r} and "
                f"{column!r}.",
                "Choose one.",
            )
        by_meaning[meaning] = column
    free = {c.strip().casefold(): c for c in present if c not in said}
    for meaning, known in MEANINGS.items():
        if meaning not in by_meaning:
            found = next((free[name] for name in known if name in free), None)
            if found is not None:
                by_meaning[meaning] = found
    if "key" not in by_meaning:
        raise InputError(
            "No column is known to hold the accession number.",
            f'Say which, as in --column "{present[0]}=key".',
        )
    used = set(by_meaning.values())
    return CatalogueColumns(by_meaning, tuple(c for c in present if c not in used))
