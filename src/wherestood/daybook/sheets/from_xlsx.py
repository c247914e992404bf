"""Read the rows of an XLSX workbook."""

from __future__ import annotations

import datetime
import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from wherestood.daybook.sheets.refusal import Refusal
from wherestood.errors import InputError

__all__ = ["rows_of_xlsx"]

Row = tuple[int, Sequence[str] | Refusal]

# A workbook of 10 000 full rows unpacks to some 30 MB; a file made to burst memory
# unpacks to thousands of times its size.
LARGEST_UNPACKED_BYTES = 1_000_000_000
LARGEST_SWELLING = 200.0
MOST_COLUMNS = 1000
_FAULTS = ("#REF!", "#VALUE!", "#NAME?", "#DIV/0!", "#N/A", "#NULL!", "#NUM!")


def rows_of_xlsx(
    path: Path, sheet: str | None
) -> tuple[Iterator[Row], tuple[str, ...]]:
    """Return the rows of a sheet, and how they were read.

    Parameters
    ----------
    path : Path
        The workbook.
    sheet : str or None
        Name of the sheet; the first where None.

    Raises
    ------
    InputError
        If it is no workbook, bursts when unpacked, or has no such sheet.
    """
    _refuse_what_bursts(path)
    try:
        book = load_workbook(path, read_only=True, data_only=True)
    except (InvalidFileException, KeyError, ValueError, OSError, SyntaxError) as error:
        raise _not_one(path) from error
    names = book.sheetnames
    if sheet is not None and sheet not in names:
        book.close()
        raise InputError(
            f"The workbook {path.name!r} has no sheet {sheet!r}.",
            f"It has: {', '.join(names)}.",
        )
    chosen = sheet or names[0]
    notes: tuple[str, ...] = (f"read from sheet {chosen!r}",)
    if sheet is None and len(names) > 1:
        notes += (f"other sheets left alone: {', '.join(names[1:])}",)
    return _rows(path, book, chosen), notes


def _not_one(path: Path) -> InputError:
    return InputError(
        f"The file {path.name!r} is no XLSX workbook, or a damaged one.",
        "Open it and save it as XLSX, or as CSV.",
    )


def _refuse_what_bursts(path: Path) -> None:
    try:
        with zipfile.ZipFile(path) as packed:
            unpacked = sum(member.file_size for member in packed.infolist())
    except (zipfile.BadZipFile, OSError) as error:
        raise _not_one(path) from error
    swelling = unpacked / max(path.stat().st_size, 1)
    if unpacked > LARGEST_UNPACKED_BYTES or swelling > LARGEST_SWELLING:
        raise InputError(
            f"The workbook {path.name!r} would unpack to {unpacked / 1e6:.0f} MB, "
            f"{swelling:.0f} times its size.",
            "Save it again, or as CSV, from a program you trust.",
        )


def _rows(path: Path, book: Any, chosen: str) -> Iterator[Row]:
    try:
        table = book[chosen]
        # The size a workbook states of itself may be wrong; it is counted instead.
        table.reset_dimensions()
        widest = 0
        for number, cells in enumerate(table.iter_rows(values_only=True), 1):
            # A workbook leaves out the empty cells at a row's end.
            widest = widest or len(cells)
            short = widest - len(cells)
            yield number, _words(number, (*cells, *(None,) * short))
    except (KeyError, ValueError, OSError, SyntaxError, zipfile.BadZipFile) as error:
        raise _not_one(path) from error
    finally:
        book.close()


def _words(number: int, cells: Sequence[Any]) -> Sequence[str] | Refusal:
    last = max(
        (place for place, cell in enumerate(cells, 1) if cell is not None), default=0
    )
    if last > MOST_COLUMNS:
        return Refusal(f"row {number}", "", f"has {last} cells; no catalogue has.")
    spoken = [_spoken(cell) for cell in cells]
    for cell in spoken:
        if cell in _FAULTS:
            return Refusal(
                f"row {number}", spoken[0], f"a formula gives {cell}; mend the sheet."
            )
    return spoken


def _spoken(cell: Any) -> str:
    """Write a cell as a person reads it."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    if isinstance(cell, datetime.datetime):
        midnight = cell.time() == datetime.time()
        return cell.date().isoformat() if midnight else cell.isoformat(sep=" ")
    if isinstance(cell, datetime.date | datetime.time):
        return cell.isoformat()
    return str(cell)
