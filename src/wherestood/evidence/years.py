"""Read the first and last year that a date as written can mean.

Dates are EDTF (`wherestood.evidence.edtf`), of which only the years matter here. What
cannot be read bounds nothing.
"""

from __future__ import annotations

from functools import lru_cache

from wherestood.evidence.edtf import DateRead, read_edtf

__all__ = ["Years", "years_of"]

#: How far off "about" may be [years]: common practice.
ABOUT_YEARS = 5
Years = tuple[float, float]


@lru_cache(maxsize=8192)  # a collection has many plates of the same dates
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
    read = read_edtf(edtf) if edtf else None
    if read is None:
        return None
    first = -float("inf") if read.begin is None else _first(read.begin)
    last = float("inf") if read.end is None else _last(read.end)
    return first, last


def _first(date: DateRead) -> float:
    return float(date.first[0] - (ABOUT_YEARS if date.approximate else 0))


def _last(date: DateRead) -> float:
    return float(date.last[0] + (ABOUT_YEARS if date.approximate else 0))
