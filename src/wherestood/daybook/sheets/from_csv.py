"""Read the rows of a CSV file of unknown encoding and delimiter."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterator, Sequence
from pathlib import Path

from charset_normalizer import from_bytes

from wherestood.daybook.sheets.refusal import Refusal
from wherestood.errors import InputError

__all__ = ["rows_of_csv"]

Row = tuple[int, Sequence[str] | Refusal]

DELIMITERS = ",;\t|"
_SPOKEN = {",": "comma", ";": "semicolon", "\t": "tab", "|": "upright stroke"}
# 10 000 entries of a full catalogue are some 20 MB.
LARGEST_BYTES = 500_000_000
_LOOK_ROWS = 50
_LOOK_BYTES = 1_000_000
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


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
    text, used = _decoded(path.name, path.read_bytes(), encoding)
    chosen = delimiter or _delimiter_of(text)
    if len(chosen) != 1 or chosen in '"\r\n':
        raise InputError(
            f"The delimiter {chosen!r} cannot part cells.",
            "Give one character, such as ; or a tab.",
        )
    notes = (f"read as {used}, parted by {_SPOKEN.get(chosen, repr(chosen))}",)
    return _rows(path.name, text, chosen), notes


def _decoded(name: str, content: bytes, encoding: str | None) -> tuple[str, str]:
    if encoding is not None:
        try:
            return content.decode(encoding), encoding
        except (UnicodeDecodeError, LookupError) as error:
            raise InputError(
                f"The file {name!r} cannot be read as {encoding}: {error}.",
                "Leave the encoding out, or name another.",
            ) from error
    for mark, marked in _MARKS:
        if content.startswith(mark):
            return _by_mark(name, content, marked), marked.removesuffix("-sig")
    try:
        return content.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        pass
    best = from_bytes(content[:_LOOK_BYTES]).best()
    if best is not None:
        try:
            return content.decode(best.encoding), f"{best.encoding} (by its looks)"
        except UnicodeDecodeError:
            pass
    raise InputError(
        f"The encoding of {name!r} cannot be told; it may be no text at all.",
        "Save it as CSV in UTF-8, or name its encoding with --encoding.",
    )


def _by_mark(name: str, content: bytes, marked: str) -> str:
    try:
        return content.decode(marked)
    except UnicodeDecodeError as error:
        raise InputError(
            f"The file {name!r} begins as {marked} but is not: {error}.",
            "Save it again as CSV in UTF-8.",
        ) from error


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


def _rows(name: str, text: str, delimiter: str) -> Iterator[Row]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    line = 1
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            if "unexpected end" in str(error):
                raise InputError(
                    f"In {name!r} a quotation mark opened in row {line} is never "
                    "closed, so the rows after it cannot be told apart.",
                    "Close it, or double it where it belongs to the value.",
                ) from error
            yield line, Refusal(f"row {line}", "", _why(error, delimiter))
        else:
            yield line, cells
        line = reader.line_num + 1


def _why(error: csv.Error, delimiter: str) -> str:
    told = str(error)
    if "expected after" in told:
        spoken = _SPOKEN.get(delimiter, repr(delimiter))
        return (
            f"something other than a {spoken} follows a closing quotation mark; double "
            "a mark that belongs to the value."
        )
    if "field larger" in told:
        return "a value is too long to be one; a quotation mark may be missing."
    return f"it cannot be read ({told})."
