"""Read points that a person marked on a plate and on a photograph."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np

from wherestood.errors import InputError
from wherestood.visit.seen_on_both import HandMarks

__all__ = ["COLUMNS", "read_marks"]

COLUMNS = ("plate_x_px", "plate_y_px", "photo_x_px", "photo_y_px")
_OTHERS = ("distance_m", "distance_sd_m", "name")
_LARGEST_BYTES = 1_000_000
_DISTANCE_SHARE = 0.05


def read_marks(
    path: Path, plate_px: tuple[int, int], photo_px: tuple[int, int]
) -> HandMarks:
    """Read marks from a CSV file with a heading.

    Parameters
    ----------
    path : Path
        Columns as in `COLUMNS`; ``distance_m`` from the plate's station with
        ``distance_sd_m``, and ``name``, may be added and left empty.
    plate_px, photo_px : (int, int)
        Width and height of both pictures, upright [px].

    Raises
    ------
    InputError
        If a line cannot be read, or a point lies off its picture.
    """
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise InputError(
                f"'{path.name}' is too large for a file of marks.", "Name another file."
            )
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(
            f"The marks '{path.name}' cannot be read.", "Save them as CSV in UTF-8."
        ) from error
    reader = csv.DictReader(lines)
    heading = tuple(name.strip() for name in reader.fieldnames or ())
    missing = [name for name in COLUMNS if name not in heading]
    if missing:
        raise InputError(
            f"'{path.name}' has no column {', '.join(missing)}.",
            f"Its first line must name {', '.join(COLUMNS)}.",
        )
    rows, distances = [], []
    for number, row in enumerate(reader, start=2):
        told = {str(name).strip(): (text or "").strip() for name, text in row.items()}
        at = [_number(told[name], path, number, name) for name in COLUMNS]
        for (x, y), (width, height), which in (
            (at[:2], plate_px, "plate"), (at[2:], photo_px, "photograph"),
        ):  # fmt: skip
            if not (0.0 <= x <= width and 0.0 <= y <= height):
                raise InputError(
                    f"'{path.name}', line {number}: {x:g}, {y:g} is off the {which} of "
                    f"{width} x {height} px.",
                    "Give pixels from the top left corner of the upright picture.",
                )
        rows.append(at)
        distances.append(_distance(told, path, number))
    if not rows:
        return HandMarks.none()
    values = np.array(rows)
    away = np.array(distances)
    return HandMarks(values[:, :2], values[:, 2:], away[:, 0], away[:, 1])


def _distance(told: dict[str, str], path: Path, number: int) -> tuple[float, float]:
    text = told.get(_OTHERS[0], "")
    if not text:
        return math.nan, math.nan
    away_m = _number(text, path, number, _OTHERS[0])
    given = told.get(_OTHERS[1], "")
    sd_m = (
        _number(given, path, number, _OTHERS[1]) if given else _DISTANCE_SHARE * away_m
    )
    if away_m <= 0.0 or sd_m <= 0.0:
        raise InputError(
            f"'{path.name}', line {number}: a distance must be above 0 m, and its "
            "doubt too.",
            "Mend the line, or leave both empty.",
        )
    return away_m, sd_m


def _number(text: str, path: Path, number: int, name: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(
            f"'{path.name}', line {number}: {text!r} is no number for {name}.",
            "Mend the line.",
        )
    return value
