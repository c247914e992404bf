"""Read lists as a person types them, and say what each column's list holds.

=========== ================================ ======================================
holds       typed                            kept
=========== ================================ ======================================
points      ``300,150; 410,160``             x and y of each [px]
corners     ``0,0; 900,0; 900,700; 0,700``   x and y of four [px]
box         ``10,20,300,200``                left, top, width, height [px]
weights     ``chimney=0.7; top=0.3``         a feature's key, and its weight, of each
geometry    ``8.5,46.1``                     a GeoJSON point [deg]
record      (JSON alone)                     keys and values
words       ``mill; weir``                   each by itself
=========== ================================ ======================================
"""

from __future__ import annotations

import json
import math
from typing import Any

__all__ = ["AS_TYPED", "is_held", "read_list"]

#: How each is typed, in the help.
AS_TYPED = {
    "points": "X,Y;...",
    "corners": "X,Y;...",
    "box": "X,Y,W,H",
    "weights": "KEY=WEIGHT;...",
    "geometry": "LON,LAT",
    "record": "JSON",
}
_FOUR = 4


def read_list(text: str, holds: str = "") -> Any:
    """Return what was typed: JSON, or a list as a person writes it.

    Parameters
    ----------
    text : str
        What was typed.
    holds : str
        What the column's list holds; words unless told.

    Raises
    ------
    ValueError
        If it cannot be read so.
    """
    if text.lstrip().startswith(("[", "{")):
        return json.loads(text)
    parts = [part.strip() for part in text.split(";") if part.strip()]
    if holds in ("points", "corners"):
        return [_numbers(part, 2) for part in parts]
    if holds == "box":
        return _numbers(text, _FOUR)
    if holds == "geometry":
        return {"type": "Point", "coordinates": _numbers(text, 2)}
    if holds == "weights":
        return [_weight(part) for part in parts]
    if holds == "record":
        raise ValueError(text)
    return parts


def is_held(value: Any, holds: str) -> bool:
    """Tell whether a list or record is what its column holds."""
    if holds in ("points", "corners"):
        return (
            isinstance(value, list)
            and (len(value) == _FOUR if holds == "corners" else bool(value))
            and all(_are_numbers(point, 2) for point in value)
        )
    if holds == "box":
        return _are_numbers(value, _FOUR)
    if holds == "weights":
        return isinstance(value, list) and all(_is_weight(one) for one in value)
    if holds == "record":
        return isinstance(value, dict)
    return True  # a geometry is looked at with its edges


def _numbers(text: str, count: int) -> list[float]:
    numbers = [float(part) for part in text.split(",")]
    if len(numbers) != count or not all(map(math.isfinite, numbers)):
        raise ValueError(text)
    return numbers


def _weight(text: str) -> dict[str, Any]:
    key, told, weight = text.rpartition("=")
    if not told:
        return {"feature": text, "weight": 1.0}
    return {"feature": key.strip(), "weight": float(weight)}


def _are_numbers(value: Any, count: int) -> bool:
    return (
        isinstance(value, list | tuple)
        and len(value) == count
        and all(_is_number(one) for one in value)
    )


def _is_number(value: Any) -> bool:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return number and math.isfinite(value)


def _is_weight(value: Any) -> bool:
    return (
        isinstance(value, dict)
        and isinstance(value.get("feature"), str)
        and _is_number(value.get("weight", 1.0))
        and set(value) <= {"feature", "weight"}
    )
