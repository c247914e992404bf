"""Write a table as CSV or XLSX, whole or not at all."""

from __future__ import annotations

import csv
import os
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font

from wherestood.daybook.forced import force_file, force_folder
from wherestood.errors import InputError

__all__ = ["write_sheet"]

_LONGEST_CELL = 32_767  # ECMA-376, as spreadsheets implement it


def write_sheet(
    path: Path, columns: Sequence[str], rows: Iterable[Sequence[str]]
) -> None:
    """Write rows of words.

    Parameters
    ----------
    path : Path
        ``.csv`` (UTF-8 with its mark, every value in quotation marks) or ``.xlsx``
        (every value as words).
    columns : sequence of str
        The first row.
    rows : iterable of sequences of str
        The others.

    Raises
    ------
    InputError
        If the name is neither, a value is too long for a workbook, or the folder
        cannot be written.

    Notes
    -----
    Values stay as they are, those that look like numbers, dates or formulas too:
    in a workbook each is marked as words, and a CSV's are in quotation marks, which
    spreadsheets can be told to respect.
    """
    kind = path.suffix.lower()
    if kind not in (".csv", ".xlsx"):
        raise InputError(
            f"The file {path.name!r} is neither CSV nor XLSX by its name.",
            "Let its name end in .csv or .xlsx.",
        )
    kept = [list(row) for row in rows]
    if kind == ".xlsx":
        _refuse_what_no_cell_holds(kept)
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    except OSError as error:
        raise InputError(
            f"The folder {str(path.parent)!r} cannot be written ({error.strerror}).",
            "Choose another folder.",
        ) from error
    passing = Path(name)
    try:
        if kind == ".csv":
            with os.fdopen(handle, "w", encoding="utf-8-sig", newline="") as stream:
                writer = csv.writer(
                    stream, quoting=csv.QUOTE_ALL, lineterminator="\r\n"
                )
                writer.writerow(columns)
                writer.writerows(kept)
        else:
            os.close(handle)
            _write_book(passing, columns, kept)
        mask = os.umask(0)
        os.umask(mask)
        passing.chmod(0o666 & ~mask)
        force_file(passing)
        passing.replace(path)
        force_folder(path.parent)
    except OSError as error:
        raise InputError(
            f"The file {str(path)!r} cannot be written ({error.strerror}).",
            "Make room, or choose another folder.",
        ) from error
    finally:
        passing.unlink(missing_ok=True)


def _refuse_what_no_cell_holds(rows: Sequence[Sequence[str]]) -> None:
    for value in (value for row in rows for value in row):
        if len(value) > _LONGEST_CELL:
            raise InputError(
                f"The value that begins {value[:40]!r} has {len(value)} characters; a "
                f"cell of a workbook holds {_LONGEST_CELL}.",
                "Write CSV instead.",
            )


def _write_book(
    passing: Path, columns: Sequence[str], rows: Iterable[Sequence[str]]
) -> None:
    book = Workbook(write_only=True)
    table = book.create_sheet("plates")
    table.freeze_panes = "A2"
    head = []
    for column in columns:
        cell = _cell(table, column)
        cell.font = Font(bold=True)
        head.append(cell)
    table.append(head)
    for row in rows:
        table.append([_cell(table, value) for value in row])
    book.save(passing)


def _cell(table: object, value: str) -> WriteOnlyCell:
    cell = WriteOnlyCell(table, value)
    # What begins with = would otherwise become a formula.
    cell.data_type = "s"
    cell.number_format = "@"
    return cell
