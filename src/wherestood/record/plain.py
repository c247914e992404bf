"""Turn values of the program into values JSON can hold."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Mapping
from pathlib import PurePath
from typing import TypeAlias

import numpy as np

__all__ = ["Json", "plain", "rounded"]

Json: TypeAlias = "str | int | float | bool | list[Json] | dict[str, Json] | None"


def rounded(value: float | None, decimals: int) -> float | None:
    """Return a rounded number, None where it is missing or not finite."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), decimals)


def plain(value: object) -> Json:
    """Return a value as JSON can hold it.

    Numbers that are not finite become None, since JSON has no word for them;
    arrays and tuples become lists; a path keeps its file name only, so that no
    folder of a person's machine goes out.
    """
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, PurePath):
        return value.name
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        pairs = ((f.name, getattr(value, f.name)) for f in dataclasses.fields(value))
        return {name: plain(part) for name, part in pairs}
    if isinstance(value, Mapping):
        return {str(key): plain(part) for key, part in value.items()}
    if isinstance(value, np.ndarray | Iterable):
        return [plain(part) for part in value]
    raise TypeError(f"JSON cannot hold a {type(value).__name__}")
