"""Hold a traced skyline, and read and write it as a file."""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import SkylineError

__all__ = ["Skyline", "read_skyline_csv", "write_skyline_csv"]

COLUMNS = ("x_px", "y_px", "sd_px")
READ_SD_SHARE = 0.0007  # of the width: how well a person follows a line
LEAST_SAMPLES = 20
_LAYOUT = (
    "The file needs a first line 'x_px,y_px' or 'x_px,y_px,sd_px', then one point "
    "a line with x rising, and an empty line where the skyline is broken."
)


@dataclass(frozen=True)
class Skyline:
    """Hold the boundary of land and sky, one sample a column at most.

    Coordinates are full-size pixels of the *upright positive* scan: origin at
    the top-left corner, x right, y down, pixel centres at integers + 0.5.

    Attributes
    ----------
    x_px, y_px : (n,) float64 array
        Sample positions [px], x strictly increasing; no NaN: a gap is a run of
        columns without samples.
    sd_px : (n,) float64 array
        Standard error of each sample, vertically [px].
    width_px, height_px : int
        Size of the scan [px].
    break_after : (n,) bool array
        True where the line is broken between this sample and the next.
    blind : bool
        True if traced without sight of the computed horizon.
    source : str
        ``"traced"``, or the name of the file it came from.
    """

    x_px: NDArray[np.float64]
    y_px: NDArray[np.float64]
    sd_px: NDArray[np.float64]
    width_px: int
    height_px: int
    break_after: NDArray[np.bool_]
    blind: bool = True
    source: str = "traced"
    notes: tuple[str, ...] = field(default=())


def read_skyline_csv(path: str | Path, width_px: int, height_px: int) -> Skyline:
    """Read a skyline from a file of points.

    Parameters
    ----------
    path : str or Path
        Comma-separated text with the columns ``x_px,y_px`` and, if wanted,
        ``sd_px``; an empty row where the skyline is broken.
    width_px, height_px : int
        Size of the scan that the points were read on [px].

    Returns
    -------
    Skyline
        Without ``sd_px``, each sample gets 0.07% of the width, 1 px at least:
        how well a person follows a line (common practice).

    Raises
    ------
    SkylineError
        If a value is no number, x does not rise, a point lies outside the scan, or
        there are fewer than 20 points; the message names the line.
    """
    path = Path(path)
    if not path.is_file():
        raise SkylineError(f"There is no skyline file '{path}'.", "Check the path.")
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise SkylineError(
            f"The skyline file '{path}' cannot be read as text.",
            "Give a file of comma-separated text, as `wherestood trace` writes it.",
        ) from error
    if not any(line.strip() for line in lines):
        raise SkylineError(f"The skyline file '{path.name}' is empty.", _LAYOUT)
    names = [name.strip() for name in lines[0].split(",")]
    if not {"x_px", "y_px"} <= set(names):
        raise SkylineError(
            f"The skyline file '{path.name}' begins with '{lines[0][:40]}'.",
            _LAYOUT,
        )
    default_sd_px = max(1.0, READ_SD_SHARE * width_px)
    points: list[tuple[float, float, float]] = []
    broken: list[bool] = []
    for number, row in enumerate(csv.reader(lines[1:]), start=2):
        if not any(cell.strip() for cell in row):
            if broken:
                broken[-1] = True
            continue
        where = f"line {number} of the skyline file '{path.name}'"
        x, y, sd = _point(row, names, default_sd_px, where)
        _check_point(x, y, points, (width_px, height_px), where)
        points.append((x, y, sd))
        broken.append(False)
    if len(points) < LEAST_SAMPLES:
        raise SkylineError(
            f"The skyline file '{path.name}' has {len(points)} points; at least "
            f"{LEAST_SAMPLES} are needed.",
            "Trace more of the skyline.",
        )
    broken[-1] = False
    table = np.asarray(points, dtype=np.float64)
    return Skyline(
        x_px=table[:, 0],
        y_px=table[:, 1],
        sd_px=table[:, 2],
        width_px=width_px,
        height_px=height_px,
        break_after=np.asarray(broken),
        source=path.name,
    )


def write_skyline_csv(skyline: Skyline, path: str | Path) -> None:
    """Write a skyline as `read_skyline_csv` reads it, to a thousandth of a pixel."""
    lines = [",".join(COLUMNS)]
    for x, y, sd, broken in zip(
        skyline.x_px, skyline.y_px, skyline.sd_px, skyline.break_after, strict=True
    ):
        lines.append(f"{x:.3f},{y:.3f},{sd:.3f}")
        if broken:
            lines.append("")
    Path(path).write_text("\n".join(lines) + "\n", encoding="utf-8")


def _point(
    row: list[str], names: list[str], default_sd_px: float, where: str
) -> tuple[float, float, float]:
    cells = dict(zip(names, (cell.strip() for cell in row), strict=False))
    values = []
    for name in COLUMNS:
        cell = cells.get(name, "")
        if name == "sd_px" and not cell:
            values.append(default_sd_px)
            continue
        try:
            value = float(cell)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise SkylineError(f"{name} on {where} is '{cell}', not a number.", _LAYOUT)
        values.append(value)
    if values[2] <= 0.0:
        raise SkylineError(f"sd_px on {where} is {values[2]:g}.", "It must be above 0.")
    return values[0], values[1], values[2]


def _check_point(
    x: float,
    y: float,
    before: list[tuple[float, float, float]],
    size_px: tuple[int, int],
    where: str,
) -> None:
    if not (0.0 <= x <= size_px[0] and 0.0 <= y <= size_px[1]):
        raise SkylineError(
            f"The point ({x:g}, {y:g}) on {where} lies outside the scan of "
            f"{size_px[0]} x {size_px[1]} px.",
            "Give pixels of this scan, upright, from its top-left corner.",
        )
    if before and x <= before[-1][0]:
        raise SkylineError(
            f"x on {where} is {x:g}, after {before[-1][0]:g}: it must rise.",
            "Sort the points by x, with one point for each x.",
        )
