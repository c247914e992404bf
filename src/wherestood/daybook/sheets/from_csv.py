"""Read the rows of a CSV file of unknown encoding and delimiter."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from pathlib import Path

from wherestood.daybook.sheets.encodings import decoded
from wherestood.daybook.sheets.refusal import Refusal
from wherestood.daybook.sheets.sheet import first_words
from wherestood.errors import InputError

__all__ = ["rows_of_csv"]

Row = tuple[int, Sequence[str] | Refusal]

DELIMITERS = ",;\t|"
_SPOKEN = {",": "comma", ";": "semicolon", "\t": "tab", "|": "upright stroke"}
# 10 000 entries of a full catalogue are some 20 MB.
LARGEST_BYTES = 500_000_000
_LOOK_ROWS = 50
_LOOK_BYTES = 1_000_000


def rows_of_csv(
    path: Path, encoding: str | None, delimiter: str | None
) -> tuple[Iterator[Row], tuple[str, ...]]:
    """Return the rows, each with its line in the file, and how they were read.

    Parameters
    ----------
    path : Path
        The file.
    encoding : str or None
        Its encoding; found out where None.
    delimiter : str or None
        What stands between cells; found out where None.

    Raises
    ------
    InputError
        If it cannot be read as text at all.
    """
    size = path.stat().st_size
    if size > LARGEST_BYTES:
        raise InputError(
            f"The file {path.name!r} has {size / 1e6:.0f} MB; at most "
            f"{LARGEST_BYTES / 1e6:.0f} MB are read.",
            "Part it into several.",
        )
    text, used = decoded(path.name, path.read_bytes(), encoding)
    chosen = delimiter or _delimiter_of(text)
    if len(chosen) != 1 or chosen in '"\r\n':
        raise InputError(
            f"The delimiter {chosen!r} cannot part cells.",
            "Give one character, such as ; or a tab.",
        )
    notes = (f"read as {used}, parted by {_SPOKEN.get(chosen, repr(chosen))}",)
    return _rows(path.name, text, chosen), notes


def _delimiter_of(text: str) -> str:
    """Return the delimiter that gives most columns, the same in most rows."""
    lines = text[:_LOOK_BYTES]
    best, chosen = (0.0, 0), ","
    for delimiter in DELIMITERS:
        widths = []
        try:
            for row in csv.reader(io.StringIO(lines, newline=""), delimiter=delimiter):
                if row:
                    widths.append(len(row))
                if len(widths) >= _LOOK_ROWS:
                    break
        except csv.Error:
            continue
        if not widths or widths[0] < 2:
            continue
        alike = sum(width == widths[0] for width in widths) / len(widths)
        if (alike, widths[0]) > best:
            best, chosen = (alike, widths[0]), delimiter
    return chosen


class _Lines:
    """Give the lines of a text, and hold the first of the row that is being read."""

    def __init__(self, text: str) -> None:
        self._lines = io.StringIO(text, newline="")
        self.first = ""

    def __iter__(self) -> _Lines:
        return self

    def __next__(self) -> str:
        line = next(self._lines)
        self.first = self.first or line
        return line


def _rows(name: str, text: str, delimiter: str) -> Iterator[Row]:
    """Give the rows as a spreadsheet numbers them, whatever lines their values have."""
    lines = _Lines(text)
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    row = 0
    while True:
        row, line = row + 1, reader.line_num + 1
        lines.first = ""
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            if "unexpected end" in str(error):
                raise InputError(
                    f"In {name!r} a quotation mark opened in row {row} (line {line}) "
                    "is never closed, so the rows after it cannot be told apart.",
                    "Close it, or double it where it belongs to the value.",
                ) from error
            where = f"row {row}" if row == line else f"row {row} (line {line})"
            begun = lines.first[:200].split(delimiter, 1)[0].strip('"')
            yield row, Refusal(where, first_words([begun]), _why(error, delimiter))
        else:
            yield row, cells


def _why(error: csv.Error, delimiter: str) -> str:
    told = str(error)
    if "expected after" in told:
        spoken = _SPOKEN.get(delimiter, repr(delimiter))
        return (
            f"something other than a {spoken} follows a closing quotation mark; double "
            "a mark that belongs to the value."
        )
    if "field larger" in told:
        return (
            f"a value has more than {csv.field_size_limit()} letters, too many to be "
            "one; a quotation mark may be missing."
        )
    return f"it cannot be read ({told})."
