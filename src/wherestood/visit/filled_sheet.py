"""Read what was brought back from a visit: a filled sheet as CSV, waypoints as GPX."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import defusedxml.ElementTree as ElementTree
from defusedxml import DefusedXmlException

from wherestood.errors import InputError
from wherestood.visit.read_on_spot import COLUMNS, Reading, checked_reading

__all__ = ["blank_sheet", "read_filled"]

_LARGEST_BYTES = 5_000_000
#: A receiver's error for a dilution of precision of 1: common practice [m].
_RANGE_SD_M = 5.0
_MOST_LINES = 5000


def read_filled(path: Path) -> tuple[list[Reading], list[str]]:
    """Read a filled sheet.

    Parameters
    ----------
    path : Path
        CSV with the columns of `COLUMNS`, or GPX whose waypoints are named *Stood*,
        *Thing: gate post*, *Not here: too low*, *Photograph: 17* or *Note: ...*.

    Returns
    -------
    readings : list of Reading
        Checked.
    passed_over : list of str
        What was left unread, in sentences.

    Raises
    ------
    InputError
        If it cannot be read, or a row cannot be.
    """
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise InputError(
                f"'{path.name}' is too large for a filled sheet.", "Name another file."
            )
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(
            f"The sheet '{path.name}' cannot be read.",
            "Save it as CSV in UTF-8, or GPX.",
        ) from error
    if text.lstrip().startswith("<"):
        return _waypoints(text, path.name)
    return _rows(text, path.name), []


def blank_sheet(gaps: list[tuple[str, str]], day: str) -> str:
    """Return a sheet to fill in, as CSV.

    Parameters
    ----------
    gaps : list of (str, str)
        Far and near thing of each pair.
    day : str
    """
    lines = [",".join(COLUMNS)]
    rows = [["day", "", "", "", "", "", "", day], ["who"], ["stood"], ["matches"]]
    rows += [["gap", far, near] for far, near in gaps]
    rows += [["compass"], ["lens"], ["tape"], ["photograph"], ["note"]]
    for row in rows:
        cells = [*row, *[""] * (len(COLUMNS) - len(row))]
        lines.append(",".join(_quoted(cell) for cell in cells))
    return "\n".join(lines) + "\n"


def _quoted(cell: str) -> str:
    if any(sign in cell for sign in ',"\n'):
        return '"' + cell.replace('"', '""') + '"'
    return cell


def _rows(text: str, name: str) -> list[Reading]:
    head = text.split("\n", 1)[0]
    reader = csv.DictReader(
        text.splitlines(), delimiter=";" if head.count(";") > head.count(",") else ","
    )
    heading = [(one or "").strip().lower() for one in reader.fieldnames or ()]
    if "what" not in heading:
        raise InputError(
            f"'{name}' has no column 'what'.",
            f"Its first line must name {', '.join(COLUMNS)}; leave out what is empty.",
        )
    found = []
    for number, row in enumerate(reader, start=2):
        if number > _MOST_LINES:
            raise InputError(
                f"'{name}' has more than {_MOST_LINES} lines.", "Name another file."
            )
        told = {
            str(key).strip().lower(): cell.strip()
            for key, cell in row.items()
            if isinstance(cell, str)
        }
        where = f"'{name}', line {number}"
        # Rows of a blank sheet that nobody filled in tell nothing.
        filled = [
            told.get(key, "")
            for key in COLUMNS
            if key not in ("what", "thing", "other")
        ]
        if not any(filled):
            continue
        found.append(checked_reading(_reading(told, where)))
    return found


def _reading(told: dict[str, str], where: str) -> Reading:
    value, sd, lon, lat = (_number(told.get(key, ""), where) for key in COLUMNS[3:7])
    return Reading(
        told.get("what", "").lower().replace("_", " "),
        told.get("thing", ""),
        told.get("other", ""),
        value,
        sd,
        lon,
        lat,
        told.get("words", ""),
        where,
    )


def _number(text: str, where: str) -> float | None:
    if not text:
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(f"{where}: {text!r} is no number.", "Mend the line.")
    return value


def _waypoints(text: str, name: str) -> tuple[list[Reading], list[str]]:
    try:
        root = ElementTree.fromstring(text)
    except (ElementTree.ParseError, DefusedXmlException, ValueError) as error:
        raise InputError(
            f"'{name}' is no GPX that can be read.", "Export waypoints as GPX 1.1."
        ) from error
    found, passed_over = [], []
    for number, point in enumerate(root.iterfind("{*}wpt"), start=1):
        told = {
            child.tag.rpartition("}")[2]: (child.text or "").strip() for child in point
        }
        called = told.get("name", "")
        where = f"'{name}', waypoint {called or number}"
        what, _, rest = (part.strip() for part in called.partition(":"))
        kind = what.lower()
        if kind.startswith("stood"):
            kind = "stood"
        if kind not in ("stood", "thing", "not here", "photograph", "note"):
            passed_over.append(called or f"number {number}")
            continue
        hdop = _number(told.get("hdop", ""), where)
        words = " ".join(part for part in (rest, told.get("desc", "")) if part)
        reading = Reading(
            kind,
            thing=rest if kind == "thing" else "",
            value=20.0 if kind == "not here" else None,
            sd=_RANGE_SD_M * hdop if hdop and kind in ("stood", "thing") else None,
            lon_deg=_number(point.get("lon", ""), where),
            lat_deg=_number(point.get("lat", ""), where),
            words=words if kind != "thing" else told.get("desc", ""),
            where=where,
        )
        found.append(checked_reading(reading))
    sentences = []
    if passed_over:
        sentences.append(
            f"Waypoints that tell nothing of a visit: {', '.join(passed_over)}. Only "
            "those count that are named Stood, Thing: ..., Not here: ..., Photograph: "
            "... or Note: ...: others may be those that were taken along."
        )
    return found, sentences
