"""Read a table from CSV or XLSX as rows of words."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from wherestood.daybook.sheets.refusal import Refusal
from wherestood.errors import InputError

__all__ = ["Sheet", "SheetRow", "first_words", "read_sheet"]

# A catalogue's longest description is some pages; beyond it something is broken.
LONGEST_VALUE = 100_000
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\ufffe\uffff]")
_SUFFIXES = {
    ".csv": "csv",
    ".tsv": "csv",
    ".tab": "csv",
    ".txt": "csv",
    ".xlsx": "xlsx",
    ".xlsm": "xlsx",
}


@dataclass(frozen=True)
class SheetRow:
    """Hold one row.

    Attributes
    ----------
    number : int
        Its row in the file, from 1; the header is row 1 as a rule.
    values : dict of str to str
        Words by column; empty where a cell is.
    """

    number: int
    values: dict[str, str]


@dataclass(frozen=True)
class Sheet:
    """Hold a table.

    Attributes
    ----------
    name : str
        The file's name.
    columns : tuple of str
        Names of the columns, in order.
    rows : tuple of SheetRow
        Those that could be read.
    refused : tuple of Refusal
        Those that could not.
    notes : tuple of str
        How it was read: encoding, delimiter, which sheet.
    """

    name: str
    columns: tuple[str, ...]
    rows: tuple[SheetRow, ...]
    refused: tuple[Refusal, ...]
    notes: tuple[str, ...]


def read_sheet(
    path: Path,
    *,
    encoding: str | None = None,
    delimiter: str | None = None,
    sheet: str | None = None,
) -> Sheet:
    """Read a table.

    Parameters
    ----------
    path : Path
        CSV (any common delimiter and encoding) or XLSX.
    encoding, delimiter : str, optional
        Of a CSV file; found out if left out.
    sheet : str, optional
        Which sheet of a workbook; its first if left out.

    Raises
    ------
    InputError
        If it is neither, or so broken that rows cannot be told apart.
    """
    from wherestood.daybook.sheets.from_csv import rows_of_csv
    from wherestood.daybook.sheets.from_xlsx import rows_of_xlsx

    if not path.is_file():
        raise InputError(f"There is no file {str(path)!r}.", "Check its name.")
    kind = _SUFFIXES.get(path.suffix.lower())
    if kind is None:
        raise InputError(
            f"The file {path.name!r} is neither CSV nor XLSX by its name.",
            "Save it as CSV or as XLSX.",
        )
    if kind == "csv":
        return as_sheet(path.name, *rows_of_csv(path, encoding, delimiter))
    return as_sheet(path.name, *rows_of_xlsx(path, sheet))


def as_sheet(
    name: str,
    rows: Iterable[tuple[int, Sequence[str] | Refusal]],
    notes: tuple[str, ...],
) -> Sheet:
    """Tell header and rows apart, and refuse rows that do not fit.

    Parameters
    ----------
    name : str
        The file's.
    rows : iterable of (number, cells)
        All rows, the header first; a refusal in place of one that cannot be read.
    notes : tuple of str
        How they were read.

    Raises
    ------
    InputError
        If there is no header, or a column's name stands twice.
    """
    columns: tuple[str, ...] | None = None
    good: list[SheetRow] = []
    refused: list[Refusal] = []
    for number, cells in rows:
        if isinstance(cells, Refusal):
            if columns is None:
                raise InputError(
                    f"The first row of {name!r} cannot be read: {cells.why}",
                    "Mend it, and try again.",
                )
            refused.append(cells)
        elif not any(cell.strip() for cell in cells):
            continue
        elif columns is None:
            columns = _header(name, cells)
        else:
            row = _fitted(number, columns, cells)
            if isinstance(row, Refusal):
                refused.append(row)
            else:
                good.append(row)
    if columns is None:
        raise InputError(
            f"The file {name!r} is empty.", "Its first row must name the columns."
        )
    return Sheet(name, columns, tuple(good), tuple(refused), notes)


def _header(name: str, cells: Sequence[str]) -> tuple[str, ...]:
    names = [cell.strip() for cell in cells]
    while names and not names[-1]:
        names.pop()
    named = [given or f"column {place}" for place, given in enumerate(names, 1)]
    times = Counter(named)
    for given in named:
        if times[given] > 1:
            raise InputError(
                f"The file {name!r} has two columns called {given!r}.",
                "Give each its own name in the first row.",
            )
        if found := _CONTROL.search(given):
            raise InputError(
                f"The name of a column in {name!r} holds the control character "
                f"U+{ord(found.group()):04X}.",
                "Mend the first row.",
            )
    return tuple(named)


def _fitted(
    number: int, columns: tuple[str, ...], cells: Sequence[str]
) -> SheetRow | Refusal:
    where, what = f"row {number}", first_words(cells)
    over = cells[len(columns) :]
    if any(cell.strip() for cell in over):
        return Refusal(
            where,
            what,
            f"has {len(cells)} cells where the first row names {len(columns)}; a "
            "delimiter inside a value must stand in quotation marks.",
        )
    if len(cells) < len(columns):
        return Refusal(
            where,
            what,
            f"has {len(cells)} cells where the first row names {len(columns)}.",
        )
    for column, cell in zip(columns, cells, strict=False):
        if found := _CONTROL.search(cell):
            return Refusal(
                where,
                what,
                f"column {column!r} holds the control character "
                f"U+{ord(found.group()):04X}; take it out.",
            )
        if len(cell) > LONGEST_VALUE:
            return Refusal(
                where,
                what,
                f"column {column!r} holds {len(cell)} characters; at most "
                f"{LONGEST_VALUE} are taken.",
            )
    values = dict(zip(columns, (cell.strip() for cell in cells), strict=False))
    return SheetRow(number, values)


def first_words(cells: Sequence[str]) -> str:
    """Return what a person knows a row by: its first cell that is not empty."""
    first = next((cell.strip() for cell in cells if cell.strip()), "")
    shown = _CONTROL.sub("\N{REPLACEMENT CHARACTER}", first)
    return shown if len(shown) <= 40 else shown[:39] + "\N{HORIZONTAL ELLIPSIS}"
