"""Name the sizes of photographic plates."""

from __future__ import annotations

import difflib
import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

from wherestood.errors import PlateError

__all__ = ["PlateFormat", "plate_formats", "size_mm"]

MM_PER_IN = 25.4
MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "in": MM_PER_IN}
_HALVES = {"half plate": ("half plate (English)", "half plate (US)")}
SMALLEST_SIDE_MM = 10.0
LARGEST_SIDE_MM = 2000.0

_FRACTIONS = {"¼": ".25", "½": ".5", "¾": ".75", "⅜": ".375", "⅝": ".625", "⅞": ".875"}
_NUMBER = r"(\d+(?:\.\d+)?|\.\d+)"
_SIZE = re.compile(
    rf"^\s*{_NUMBER}\s*(mm|cm|in)?\s*(?:x|by)\s*{_NUMBER}\s*(mm|cm|in)?\s*$"
)


@dataclass(frozen=True)
class PlateFormat:
    """Hold one size the trade sold plates in.

    Attributes
    ----------
    name : str
        What the trade called it.
    also : tuple of str
        Other names it is known by.
    long_mm, short_mm : float
        Sides [mm].
    used : str
        Where it was sold.
    mark : str
        ``"seen"`` if read in the source, ``"from memory"`` if not checked.
    source : str
        Where the size comes from.
    """

    name: str
    also: tuple[str, ...]
    long_mm: float
    short_mm: float
    used: str
    mark: str
    source: str


@cache
def plate_formats() -> tuple[PlateFormat, ...]:
    """Return every size in the table, in the table's order."""
    text = resources.files("wherestood.plate").joinpath("formats.toml").read_text()
    found = []
    for row in tomllib.loads(text)["format"]:
        unit = next(u for u in MM_PER_UNIT if f"long_{u}" in row)
        found.append(
            PlateFormat(
                name=row["name"],
                also=tuple(row.get("also", ())),
                long_mm=row[f"long_{unit}"] * MM_PER_UNIT[unit],
                short_mm=row[f"short_{unit}"] * MM_PER_UNIT[unit],
                used=row["used"],
                mark=row["mark"],
                source=row["source"],
            )
        )
    return tuple(found)


def size_mm(text: str) -> tuple[float, float]:
    """Turn the name of a plate size, or its sides, into millimetres.

    Parameters
    ----------
    text : str
        A name of the table (``"whole plate"``), or width and height with their
        unit: ``"216x165mm"``, ``"8.5x6.5in"``, ``"6 1/2 x 8 1/2 in"``.

    Returns
    -------
    (float, float)
        The two sides in the order given [mm]; for a name, the long side first.
        Which of them lies across the scan is for the scan's shape to say.

    Raises
    ------
    PlateError
        If nothing is known by that name (the near ones are offered), the name
        stands for two sizes, the unit is missing, or a side is absurd.

    Examples
    --------
    >>> size_mm("8.5x6.5in")
    (215.9, 165.1)
    >>> size_mm("quarter plate")
    (107.95, 82.55)
    """
    sides = _sides_mm(text)
    if sides is not None:
        return sides
    wanted = _plain(text)
    if wanted in {*_HALVES, "half", "1/2 plate"}:
        raise PlateError(
            f"The size '{text}' stands for two: English 6.5 x 4.75 in "
            "(165 x 121 mm) and United States 5.5 x 4.25 in (140 x 108 mm).",
            "Say 'half plate (English)' or 'half plate (US)'.",
        )
    names = {_plain(n): f for f in plate_formats() for n in (f.name, *f.also)}
    if wanted in names:
        row = names[wanted]
        return round(row.long_mm, 6), round(row.short_mm, 6)
    raise _unknown(text, wanted, names)


def _sides_mm(text: str) -> tuple[float, float] | None:
    matched = _SIZE.match(_decimal(text))
    if matched is None:
        return None
    first, unit_first, second, unit_second = matched.groups()
    unit = unit_second or unit_first
    if unit is None:
        raise PlateError(
            f"The plate size '{text}' has no unit.",
            f"Write it as {first}x{second}mm, {first}x{second}cm or "
            f"{first}x{second}in.",
        )
    width = float(first) * MM_PER_UNIT[unit_first or unit]
    height = float(second) * MM_PER_UNIT[unit]
    for side in (width, height):
        if not SMALLEST_SIDE_MM <= side <= LARGEST_SIDE_MM:
            raise PlateError(
                f"The plate size '{text}' has a side of {side:g} mm; plates have "
                f"sides of {SMALLEST_SIDE_MM:g} to {LARGEST_SIDE_MM:g} mm.",
                "Check the numbers and the unit.",
            )
    return round(width, 6), round(height, 6)


def _decimal(text: str) -> str:
    """Write fractions as decimals and units by their short names."""
    text = text.lower().replace("×", "x").replace("*", "x")
    for sign, digits in _FRACTIONS.items():
        text = re.sub(rf"(\d)\s*{sign}", rf"\g<1>{digits}", text)
        text = text.replace(sign, f"0{digits}")
    text = re.sub(
        r"(?:(\d+)[\s-]+)?(\d+)/(\d+)",
        lambda m: f"{int(m[1] or 0) + int(m[2]) / max(int(m[3]), 1):g}",
        text,
    )
    text = re.sub(r"inch(es)?|″|\"|''", "in", text)
    return re.sub(r"(milli|centi)met(er|re)s?", lambda m: m[1][0] + "m", text)


def _plain(name: str) -> str:
    return re.sub(r"[\s_-]+", " ", name.lower().replace("×", "x")).strip()


def _unknown(text: str, wanted: str, names: dict[str, PlateFormat]) -> PlateError:
    near = difflib.get_close_matches(wanted, [*names, *_HALVES], n=4, cutoff=0.5)
    offered = list(
        dict.fromkeys(name for n in near for name in _HALVES.get(n) or (names[n].name,))
    )
    sides = "give the sides, as 216x165mm or 8.5x6.5in."
    return PlateError(
        f"No plate size is called '{text}'.",
        f"Near names: {', '.join(offered)}. Or {sides}"
        if offered
        else f"`wherestood sizes` lists those known. Or {sides}",
    )
