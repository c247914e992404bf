"""Hold a traced skyline, and read and write it as a file."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import SkylineError

__all__ = [
    "SKYLINE_NAMES",
    "Skyline",
    "TracedRidge",
    "read_skyline_csv",
    "read_traced_lines",
    "write_skyline_csv",
]

COLUMNS = ("x_px", "y_px", "sd_px")
RIDGE_COLUMNS = ("line", "trust")
SKYLINE_NAMES = ("", "skyline")
#: How often a ridge line drawn by hand is one (common practice).
HAND_TRUST = 0.9
READ_SD_SHARE = 0.0007  # of the width: how well a person follows a line
LEAST_SAMPLES = 20
_LAYOUT = (
    "The file needs a first line 'x_px,y_px' or 'x_px,y_px,sd_px', then one point "
    "a line with x rising, and an empty line where the skyline is broken. A column "
    "'line' may name ridge lines below the skyline, a column 'trust' say how sure each "
    "is one."
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


@dataclass(frozen=True)
class TracedRidge:
    """Hold a ridge line of a skyline file.

    Attributes
    ----------
    name : str
        As the file names it.
    line : Skyline
        Its points.
    trust : float
        Probability that near ground hides farther ground there, above 0, below 1.
    """

    name: str
    line: Skyline
    trust: float


@dataclass
class _Points:
    """Gather the points of one line of a file."""

    table: list[tuple[float, float, float]] = field(default_factory=list)
    broken: list[bool] = field(default_factory=list)
    trust: float = HAND_TRUST

    def line(self, width_px: int, height_px: int, source: str) -> Skyline:
        x_px, y_px, sd_px = np.asarray(self.table, dtype=np.float64).T
        return Skyline(
            x_px=x_px,
            y_px=y_px,
            sd_px=sd_px,
            width_px=width_px,
            height_px=height_px,
            break_after=np.asarray([*self.broken[:-1], False]),
            source=source,
        )


def read_skyline_csv(path: str | Path, width_px: int, height_px: int) -> Skyline:
    """Read a skyline from a file of points; as `read_traced_lines`, ridges left out."""
    return read_traced_lines(path, width_px, height_px)[0]


def read_traced_lines(
    path: str | Path, width_px: int, height_px: int
) -> tuple[Skyline, tuple[TracedRidge, ...]]:
    """Read a skyline, and ridge lines below it, from a file of points.

    Parameters
    ----------
    path : str or Path
        Comma-separated text with the columns ``x_px,y_px`` and, if wanted,
        ``sd_px``; an empty row where a line is broken. Points with a name in the
        column ``line`` belong to that ridge line, those without one, or named
        ``skyline``, to the skyline; ``trust`` says how sure a ridge line is one.
    width_px, height_px : int
        Size of the scan that the points were read on [px].

    Returns
    -------
    skyline : Skyline
        Without ``sd_px``, each sample gets 0.07% of the width, 1 px at least:
        how well a person follows a line (common practice).
    ridges : tuple of TracedRidge

    Raises
    ------
    SkylineError
        If a value is no number, x does not rise along a line, a point lies outside
        the scan, or the skyline has fewer than 20 points or a ridge line fewer than 2;
        the message names the line.
    """
    path = Path(path)
    lines = _text_lines(path)
    names = [name.strip() for name in lines[0].split(",")]
    if not {"x_px", "y_px"} <= set(names):
        raise SkylineError(
            f"The skyline file '{path.name}' begins with '{lines[0][:40]}'.",
            _LAYOUT,
        )
    default_sd_px = max(1.0, READ_SD_SHARE * width_px)
    found: dict[str, _Points] = {"": _Points()}
    latest = found[""]
    for number, row in enumerate(csv.reader(lines[1:]), start=2):
        if not any(cell.strip() for cell in row):
            if latest.broken:
                latest.broken[-1] = True
            continue
        where = f"line {number} of the skyline file '{path.name}'"
        name = _cell(row, names, "line")
        latest = found.setdefault("" if name in SKYLINE_NAMES else name, _Points())
        x, y, sd = _point(row, names, default_sd_px, where)
        _check_point(x, y, latest.table, (width_px, height_px), where)
        if trust := _cell(row, names, "trust"):
            latest.trust = _trust(trust, where)
        latest.table.append((x, y, sd))
        latest.broken.append(False)
    for name, points in found.items():
        least = 2 if name else LEAST_SAMPLES
        if len(points.table) < least:
            what = f"The ridge line '{name}' of the" if name else "The"
            raise SkylineError(
                f"{what} skyline file '{path.name}' has {len(points.table)} points; at "
                f"least {least} are needed.",
                "Trace more of it." if name else "Trace more of the skyline.",
            )
    skyline = found.pop("").line(width_px, height_px, path.name)
    return skyline, tuple(
        TracedRidge(name, points.line(width_px, height_px, path.name), points.trust)
        for name, points in found.items()
    )


def write_skyline_csv(
    skyline: Skyline, path: str | Path, ridges: Sequence[TracedRidge] = ()
) -> None:
    """Write a skyline as `read_traced_lines` reads it, to a thousandth of a pixel."""
    columns = (*COLUMNS, *RIDGE_COLUMNS) if ridges else COLUMNS
    rows = [",".join(columns), *_rows(skyline, ",skyline," if ridges else "")]
    for ridge in ridges:
        rows.extend(_rows(ridge.line, f",{_quoted(ridge.name)},{ridge.trust:g}"))
    Path(path).write_text("\n".join(rows) + "\n", encoding="utf-8")


def _rows(line: Skyline, ending: str) -> list[str]:
    rows = []
    for x, y, sd, broken in zip(
        line.x_px, line.y_px, line.sd_px, line.break_after, strict=True
    ):
        rows.append(f"{x:.3f},{y:.3f},{sd:.3f}{ending}")
        if broken:
            rows.append("")
    return rows


def _quoted(name: str) -> str:
    """Return a name as a cell of comma-separated text (RFC 4180)."""
    if not set(name) & set(',"'):
        return name
    doubled = name.replace('"', '""')
    return f'"{doubled}"'


def _text_lines(path: Path) -> list[str]:
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
    return lines


def _cell(row: list[str], names: list[str], name: str) -> str:
    """Return a row's cell of a column, empty if there is none."""
    cells = dict(zip(names, (cell.strip() for cell in row), strict=False))
    return cells.get(name, "")


def _trust(cell: str, where: str) -> float:
    try:
        trust = float(cell)
    except ValueError:
        trust = math.nan
    if not 0.0 < trust < 1.0:
        raise SkylineError(
            f"trust on {where} is '{cell}'.", "Give a number between 0 and 1."
        )
    return trust


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
