"""Read the first and last year that a date as written can mean.

Dates are EDTF (ISO 8601-2:2019, levels 0 and 1), of which only the years matter here.
What cannot be read bounds nothing.
"""

from __future__ import annotations

import re

__all__ = ["years_of"]

_YEAR = re.compile(
    r"^(-?\d{4}|\d{3}X|\d\dXX|\dXXX|Y-?\d{5,})(?:-(?:\d\d|XX))?(?:-(?:\d\d|XX))?$"
)
#: How far off "about" may be [years]: common practice.
ABOUT_YEARS = 5
Years = tuple[float, float]


def years_of(edtf: str | None) -> Years | None:
    """Return the first and last year a date can mean.

    Parameters
    ----------
    edtf : str or None
        A date, an interval ``1870/1880``, an open one ``1870/..``; ``~`` and ``%``
        widen by `ABOUT_YEARS`, ``?`` does not.

    Returns
    -------
    (float, float) or None
        Infinite where open; None where nothing can be read.
    """
    if not edtf or not edtf.strip():
        return None
    first, mark, last = edtf.strip().partition("/")
    if not mark:
        return _single(first)
    early = (-float("inf"),) * 2 if first in ("", "..") else _single(first)
    late = (float("inf"),) * 2 if last in ("", "..") else _single(last)
    if early is None or late is None:
        return None
    return early[0], late[1]


def _single(words: str) -> Years | None:
    text = words.strip()
    about = ABOUT_YEARS if text[-1:] in ("~", "%") else 0
    text = text.rstrip("~%?")
    found = _YEAR.match(text)
    if found is None:
        return None
    year = found.group(1).lstrip("Y")
    low, high = int(year.replace("X", "0")), int(year.replace("X", "9"))
    return float(low - about), float(high + about)
