"""Plan what would happen if a catalogue were taken in."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Literal

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.catalogue.columns import CatalogueColumns
from wherestood.daybook.check_items import check_item
from wherestood.daybook.sheets import Refusal, Sheet, SheetRow, in_order
from wherestood.daybook.tables import Maker, Plate, Right
from wherestood.errors import InputError
from wherestood.progress import SILENT, Progress

__all__ = ["CatalogueEntry", "CataloguePlan", "plan_for"]

Doing = Literal["add", "change", "same"]
_STEP_ROWS = 100
#: Column of `Plate` by meaning.
PLATE_COLUMNS = {
    "title": "title",
    "description": "description",
    "date": "date_words",
    "place": "place_words",
    "held by": "held_by",
    "collection": "collection",
    "negative number": "negative_number",
    "inscription": "inscription",
    "size": "size",
    "note": "note",
}
#: Column of `Right` by meaning.
RIGHT_COLUMNS = {
    "rights": "terms",
    "rights holder": "holder",
    "licence": "licence",
    "credit": "credit",
}
# Words that tell a process; whatever else is said stays in the entry as it came.
# Common practice.
_PROCESSES = (
    ("daguerreotype", "direct positive"),
    ("ambrotype", "direct positive"),
    ("tintype", "direct positive"),
    ("ferrotype", "direct positive"),
    ("direct positive", "direct positive"),
    ("glass negative", "glass negative"),
    ("glass plate", "glass negative"),
    ("dry plate", "glass negative"),
    ("wet plate", "glass negative"),
    ("collodion negative", "glass negative"),
    ("print", "print"),
    ("postcard", "print"),
    ("carte de visite", "print"),
)


@dataclass(frozen=True)
class CatalogueEntry:
    """Hold what one row would do.

    Attributes
    ----------
    where : str
        Its row in the file.
    key : str
        The plate's key.
    doing : Doing
        Add a plate, change one, or nothing as all is the same.
    plate : dict
        Columns of the plate, only those that are said.
    maker : str or None
        Name of its maker.
    right : dict
        Columns of its right in the image.
    changes : dict of str to (before, after)
        What would change of a plate that is there.
    file : str or None
        The scan that the row names.
    """

    where: str
    key: str
    doing: Doing
    plate: dict[str, Any]
    maker: str | None = None
    right: dict[str, Any] = field(default_factory=dict)
    changes: dict[str, tuple[Any, Any]] = field(default_factory=dict)
    file: str | None = None


@dataclass(frozen=True)
class CataloguePlan:
    """Hold what a whole file would do.

    Attributes
    ----------
    entries : tuple of CatalogueEntry
        Row by row.
    refused : tuple of Refusal
        Rows that would not be taken, and why.
    columns : CatalogueColumns
        What the columns were taken to mean.
    """

    entries: tuple[CatalogueEntry, ...]
    refused: tuple[Refusal, ...]
    columns: CatalogueColumns

    def count(self, doing: Doing) -> int:
        """Return how many rows would do this."""
        return sum(entry.doing == doing for entry in self.entries)


@dataclass(frozen=True)
class _There:
    """Hold a plate that is in the daybook."""

    plate: Plate
    maker: str | None
    right: Right | None


def plan_for(
    session: Session,
    sheet: Sheet,
    columns: CatalogueColumns,
    *,
    change: bool = False,
    progress: Progress = SILENT,
) -> CataloguePlan:
    """Plan what would happen, row by row.

    Parameters
    ----------
    session : Session
        Of the daybook; nothing is written.
    sheet : Sheet
        The catalogue.
    columns : CatalogueColumns
        What its columns mean.
    change : bool
        Whether plates that are there may be changed; otherwise a row that differs
        from its plate is refused.
    progress : Progress
        Told of every hundred rows.

    Notes
    -----
    An empty cell says nothing: it never empties what the daybook has.
    """
    # It needs what this module defines.
    from wherestood.daybook.catalogue.unchanged import given_out_so

    there = _plates_there(session)
    as_given = given_out_so(session, sheet)
    entries: list[CatalogueEntry] = []
    refused = list(sheet.refused)
    rows_by_key: dict[str, str] = {}
    progress.stage("comparing with the daybook", len(sheet.rows) // _STEP_ROWS + 1)
    for count, row in enumerate(sheet.rows):
        if count % _STEP_ROWS == 0:
            progress.advance()
        where = f"row {row.number}"
        try:
            entry = _entry(row, columns)
            if entry.key in rows_by_key:
                raise InputError(
                    f"its accession number stands in {rows_by_key[entry.key]} already."
                )
            rows_by_key[entry.key] = where
            if as_given.get(row.number) == entry.key:
                entries.append(replace(entry, doing="same"))
                continue
            entries.append(
                _compared(entry, there.get(entry.key), columns.unused, change)
            )
        except InputError as error:
            key = row.values.get(columns.by_meaning["key"], "")
            refused.append(Refusal(where, key, str(error)))
    return CataloguePlan(tuple(entries), in_order(refused), columns)


def _plates_there(session: Session) -> dict[str, _There]:
    makers = {maker.id: maker.name for maker in session.scalars(select(Maker))}
    image = select(Right).where(
        Right.about_table == "plates",
        Right.what == "image",
        Right.removed.is_(False),
    )
    rights = {right.about_id: right for right in session.scalars(image)}
    return {
        plate.key: _There(plate, makers.get(plate.maker_id or ""), rights.get(plate.id))
        for plate in session.scalars(select(Plate))
    }


def _entry(row: SheetRow, columns: CatalogueColumns) -> CatalogueEntry:
    """Return what a row says of a plate, as if there were none.

    Raises
    ------
    InputError
        If the daybook could not hold it.
    """
    said = {
        meaning: row.values.get(column, "")
        for meaning, column in columns.by_meaning.items()
    }
    key = said["key"]
    if not key:
        raise InputError("it has no accession number.", "Give it one.")
    plate: dict[str, Any] = {
        column: said[meaning]
        for meaning, column in PLATE_COLUMNS.items()
        if said.get(meaning)
    }
    if said.get("subjects"):
        plate["subjects"] = [
            part.strip() for part in said["subjects"].split(";") if part.strip()
        ]
    process = _process(said.get("process", ""))
    if process:
        plate["process"] = process
    plate["catalogue"] = {c: value for c, value in row.values.items() if value}
    right = {
        column: said[meaning]
        for meaning, column in RIGHT_COLUMNS.items()
        if said.get(meaning)
    }
    entry = CatalogueEntry(
        where=f"row {row.number}",
        key=key,
        doing="add",
        plate=plate,
        maker=_maker(said.get("maker", "")),
        right=right,
        file=said.get("file") or None,
    )
    check_item(Plate(key=key, **plate), added=True)
    return entry


def _maker(name: str) -> str | None:
    """Return a maker's name; ``?`` or ``-`` in its cell names nobody."""
    return name if any(letter.isalnum() for letter in name) else None


def _process(words: str) -> str | None:
    spoken = words.casefold()
    return next((process for word, process in _PROCESSES if word in spoken), None)


def _compared(
    entry: CatalogueEntry,
    there: _There | None,
    unused: tuple[str, ...],
    change: bool,
) -> CatalogueEntry:
    """Compare an entry with the plate of its key.

    Raises
    ------
    InputError
        If the plate may not be changed, or was set aside.
    """
    if there is None:
        return entry
    if there.plate.withdrawn or there.plate.removed:
        state = "withdrawn" if there.plate.withdrawn else "set aside"
        raise InputError(f"its plate was {state} in this daybook.")
    changes = {
        column: (getattr(there.plate, column), value)
        for column, value in entry.plate.items()
        if column != "catalogue" and getattr(there.plate, column) != value
    }
    changes |= _of_unused(entry, there.plate, unused)
    if entry.maker is not None and entry.maker != there.maker:
        changes["maker"] = (there.maker, entry.maker)
    for column, value in entry.right.items():
        before = getattr(there.right, column) if there.right else None
        if before != value:
            changes[f"right: {column}"] = (before, value)
    if changes and not change:
        raise InputError(
            f"its plate is in the daybook and differs in: "
            f"{', '.join(sorted(_spoken(one) for one in changes))}.",
            "Take it with --change, or leave it.",
        )
    kept = {**(there.plate.catalogue or {}), **entry.plate["catalogue"]}
    return replace(
        entry,
        doing="change" if changes else "same",
        plate={**entry.plate, "catalogue": kept},
        changes=changes,
    )


def _spoken(column: str) -> str:
    """Return a column as a person is shown it: ``held by``, ``date``."""
    meanings = {name: meaning for meaning, name in PLATE_COLUMNS.items()}
    return meanings.get(column, column.replace("_", " "))


def _of_unused(
    entry: CatalogueEntry, plate: Plate, unused: tuple[str, ...]
) -> dict[str, tuple[Any, Any]]:
    """Compare the columns that are kept as they came and otherwise left alone."""
    before, after = plate.catalogue or {}, entry.plate["catalogue"]
    return {
        column: (before.get(column), after[column])
        for column in unused
        if column in after and before.get(column) != after[column]
    }
