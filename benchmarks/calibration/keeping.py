"""Keep the result of every plate in a file of its own, and all of them as tables."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable
from pathlib import Path

from calibration.plan import Part
from wherestood.record.atomic import write_text_atomically

Row = dict[str, object]

#: Significant digits of what is kept in the tables.
DIGITS = 5


def kept_at(folder: Path, part: Part, index: int) -> Path:
    """Return the file of one plate's result."""
    return folder / f"{part.name}-{index:03d}.json"


def keep(path: Path, row: Row) -> None:
    """Write a result, whole or not at all."""
    write_text_atomically(path, json.dumps(row) + "\n")


def missing(folder: Path, part: Part, indices: Iterable[int]) -> list[int]:
    """Return the plates that have no result yet."""
    return [index for index in indices if not kept_at(folder, part, index).exists()]


def kept_rows(folder: Path, part: Part) -> list[Row]:
    """Return the results of a part so far, in the order of its plates."""
    rows = []
    for index in range(part.plates):
        path = kept_at(folder, part, index)
        if path.exists():
            rows.append({"plate": index} | json.loads(path.read_text(encoding="utf-8")))
    return rows


def as_table(rows: list[Row]) -> str:
    """Return results as CSV, those of several searches a line each."""
    lines = [line for row in rows for line in _lines(row)]
    names = list(dict.fromkeys(name for line in lines for name in line))
    text = io.StringIO()
    writer = csv.DictWriter(text, names, lineterminator="\n", restval="")
    writer.writeheader()
    for line in lines:
        writer.writerow({name: _cell(value) for name, value in line.items()})
    return text.getvalue()


def read_table(path: Path) -> list[dict[str, str]]:
    """Return the lines of a table that was kept; none where there is none."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _lines(row: Row) -> list[Row]:
    kinds = row.get("kinds")
    if not isinstance(kinds, dict):
        return [row]
    plain = {name: value for name, value in row.items() if name != "kinds"}
    return [plain | {"kind": kind} | found for kind, found in kinds.items()]


def _cell(value: object) -> object:
    if value is None:
        return ""
    if isinstance(value, bool):
        return int(value)
    return f"{value:.{DIGITS}g}" if isinstance(value, float) else value
