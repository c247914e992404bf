"""Read the rows of an XLSX workbook."""

from __future__ import annotations

import datetime
import re
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from defusedxml import ElementTree
from defusedxml.common import DefusedXmlException
from openpyxl import load_workbook
from openpyxl.utils import coordinate_to_tuple, get_column_letter
from openpyxl.utils.exceptions import InvalidFileException

from wherestood.daybook.sheets.number_forms import date_as_shown, number_as_shown
from wherestood.daybook.sheets.refusal import Refusal
from wherestood.errors import InputError

__all__ = ["rows_of_xlsx"]

Row = tuple[int, Sequence[str] | Refusal]

# A workbook of 10 000 full rows unpacks to some 30 MB; a file made to burst memory
# unpacks to thousands of times its size.
LARGEST_UNPACKED_BYTES = 1_000_000_000
LARGEST_SWELLING = 200.0
MOST_COLUMNS = 1000
MOST_ROWS = 1_048_576  # a workbook has no more
_FAULTS = ("#REF!", "#VALUE!", "#NAME?", "#DIV/0!", "#N/A", "#NULL!", "#NUM!")
# What a workbook raises that is damaged within.
_DAMAGED = (
    InvalidFileException, KeyError, ValueError, OSError, SyntaxError, AttributeError,
    TypeError, IndexError, EOFError, NotImplementedError, zipfile.BadZipFile,
    zlib.error, DefusedXmlException,
)  # fmt: skip
_FORMULA = re.compile(rb"<(?:\w+:)?f[\s/>]")
_READ_BYTES = 1 << 20


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
    except _DAMAGED as error:
        raise _not_one(path) from error
    names = [table.title for table in book.worksheets]
    charts = [name for name in book.sheetnames if name not in names]
    if not names or (sheet is not None and sheet not in names):
        book.close()
        what = "sheet" if sheet is None else f"sheet {sheet!r}"
        raise InputError(
            f"The workbook {path.name!r} has no {what} with cells.",
            f"It has: {', '.join(names) or 'charts alone'}.",
        )
    chosen = sheet or names[0]
    notes: tuple[str, ...] = (f"read from sheet {chosen!r}",)
    others = [*names[1:], *charts]
    if sheet is None and others:
        notes += (f"other sheets left alone: {', '.join(others)}",)
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
        not_reckoned = _formulas_without_value(table)
        widest = 0
        for number, cells in enumerate(table.iter_rows(), 1):
            if number > MOST_ROWS:
                raise ValueError("more rows than a workbook has")
            # A workbook leaves out the empty cells at a row's end.
            widest = widest or len(cells)
            spoken = _words(number, cells, not_reckoned)
            if not isinstance(spoken, Refusal):
                spoken += [""] * (widest - len(spoken))
            yield number, spoken
    except _DAMAGED as error:
        raise _not_one(path) from error
    finally:
        book.close()


def _formulas_without_value(table: Any) -> frozenset[tuple[int, int]]:
    """Return rows and columns of formulas whose result the workbook does not hold.

    A program that writes a workbook need not reckon its formulas; only a spreadsheet
    that opens and saves it does.
    """
    # The library tells neither formula from value nor an empty result from none.
    with table._get_source() as stream:
        end = b""
        while block := stream.read(_READ_BYTES):
            if _FORMULA.search(end + block):
                break
            end = block[-100:]
        else:
            return frozenset()
    found = set()
    row = column = 0
    with table._get_source() as stream:
        for event, element in ElementTree.iterparse(stream, events=("start", "end")):
            kind = element.tag.rpartition("}")[2]
            if event == "start" and kind == "row":
                row, column = int(element.get("r") or row + 1), 0
            elif event == "end" and kind == "c":
                column += 1
                if at := element.get("r"):
                    _, column = coordinate_to_tuple(at)
                if _has_no_value(element):
                    found.add((row, column))
            elif event == "end" and kind == "row":
                element.clear()
    return frozenset(found)


def _has_no_value(cell: Any) -> bool:
    parts = {child.tag.rpartition("}")[2]: child for child in cell}
    if "f" not in parts:
        return False
    # Words may be empty and known all the same: t="str" with <v></v>.
    return "v" not in parts or (cell.get("t") != "str" and not parts["v"].text)


def _words(
    number: int, cells: Sequence[Any], not_reckoned: frozenset[tuple[int, int]]
) -> list[str] | Refusal:
    last = max(
        (place for place, cell in enumerate(cells, 1) if cell.value is not None),
        default=0,
    )
    if last > MOST_COLUMNS:
        return Refusal(f"row {number}", "", f"has {last} cells; no catalogue has.")
    spoken: list[str] = []
    for place, cell in enumerate(cells, 1):
        words = None if (number, place) in not_reckoned else _spoken(cell)
        why = ""
        if (number, place) in not_reckoned:
            why = (
                "holds a formula without its result; open the workbook in a "
                "spreadsheet, save it, and try again."
            )
        elif words is None:
            why = (
                f"holds the number {cell.value!r} and shows another, in the form "
                f"{cell.number_format!r}; make its column text, and write there what "
                "shall be read."
            )
        elif words in _FAULTS:
            why = f"has a formula that gives {words}; mend the sheet."
        if why:
            named = next((known for known in spoken if known), "")
            at = f"{get_column_letter(place)}{number}"
            return Refusal(f"row {number}", named, f"cell {at} {why}")
        spoken.append(words or "")
    return spoken


def _spoken(cell: Any) -> str | None:
    """Write a cell as a person reads it; None where it shows less than it holds."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return number_as_shown(value, cell.number_format)
    if isinstance(value, datetime.datetime):
        return date_as_shown(value, cell.number_format)
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return str(value)
