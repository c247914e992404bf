"""Name the periods in which processes, mounts and formats were in use."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Literal

from wherestood.dating.items import Bound, InUse, Item
from wherestood.dating.months import Span, month_of
from wherestood.errors import EvidenceError

__all__ = ["Period", "known_periods", "period_item", "read_periods"]

Dates = Literal["exposure", "print"]
_KEYS = {
    "name", "kind", "dates", "first", "general_from", "general_to", "last", "trust",
    "mark", "source",
}  # fmt: skip


@dataclass(frozen=True)
class Period:
    """Be the years in which something was in use.

    Attributes
    ----------
    name : str
        What it is called.
    kind : str
        Process, print, mount, format.
    dates : Dates
        What it dates.
    span : Span
        Its months, ends soft.
    trust : float
        How probable a plate so described lies within.
    mark : str
        ``"seen"``, ``"common practice"`` or ``"from memory"``.
    source : str
        Where the years are from.
    """

    name: str
    kind: str
    dates: Dates
    span: Span
    trust: float
    mark: str
    source: str


def read_periods(text: str, file: str) -> dict[str, Period]:
    """Read a table of periods.

    Parameters
    ----------
    text : str
        TOML with ``[[period]]`` rows.
    file : str
        Its name, for messages.

    Returns
    -------
    dict of str to Period
        By name.

    Raises
    ------
    EvidenceError
        If it cannot be read, or a row lacks something or contradicts itself.
    """
    try:
        rows = tomllib.loads(text).get("period", [])
    except tomllib.TOMLDecodeError as trouble:
        raise EvidenceError(
            f"{file} cannot be read as TOML: {trouble}.", "Correct that place."
        ) from trouble
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise EvidenceError(
            f"In {file} the periods are no list of rows.", "Begin each with [[period]]."
        )
    periods = [_period(row, file) for row in rows]
    return {period.name: period for period in periods}


def _period(row: Mapping[str, Any], file: str) -> Period:
    name = row.get("name")
    if not isinstance(name, str) or not name:
        raise EvidenceError(f"In {file} a period has no name.", "Give it one.")
    unknown = sorted(set(row) - _KEYS)
    if unknown:
        raise EvidenceError(
            f"In {file} the period {name!r} has keys that mean nothing: "
            f"{', '.join(unknown)}.",
            f"Known: {', '.join(sorted(_KEYS))}.",
        )
    years = [row.get(key) for key in ("first", "general_from", "general_to", "last")]
    whole = all(year is None or type(year) is int for year in years)
    given = [year for year in years if year is not None]
    paired = (years[0] is None) == (years[1] is None)
    paired = paired and (years[2] is None) == (years[3] is None)
    if not whole or not given or not paired or given != sorted(given):
        raise EvidenceError(
            f"In {file} the years of {name!r} are not first <= general_from <= "
            "general_to <= last, in whole years.",
            "Give both of each end, or neither where it is open.",
        )
    dates = row.get("dates")
    if dates not in ("exposure", "print"):
        raise EvidenceError(
            f"In {file} {name!r} does not say what it dates.",
            'Write dates = "exposure" or dates = "print".',
        )
    trust = row.get("trust", 0.9)
    if type(trust) not in (int, float) or not 0.0 <= trust <= 1.0:
        raise EvidenceError(
            f"In {file} the trust of {name!r} is {trust!r}.",
            "Write a number between 0 and 1.",
        )
    first, rises, falls, last = years
    span = Span(
        None if first is None else month_of(first),
        None if rises is None else month_of(rises),
        None if falls is None else month_of(falls, 12),
        None if last is None else month_of(last, 12),
    )
    return Period(
        name,
        str(row.get("kind", "")),
        dates,
        span,
        float(trust),
        str(row.get("mark", "from memory")),
        str(row.get("source", "")),
    )


@cache
def known_periods() -> Mapping[str, Period]:
    """Return the periods that come with the program, by name."""
    text = resources.files("wherestood.dating").joinpath("periods.toml").read_text()
    return read_periods(text, "periods.toml")


def period_item(
    key: str, name: str, periods: Mapping[str, Period] | None = None
) -> Item:
    """Make an item of a process, mount or format.

    Parameters
    ----------
    key : str
        What the item is called by.
    name : str
        The period's name.
    periods : mapping of str to Period, optional
        Those known; else those that come with the program.

    Returns
    -------
    Item
        A soft span where it dates the exposure; where it dates the print, a soft bound
        on the late side only.

    Raises
    ------
    EvidenceError
        If no period is called so; near names are offered.
    """
    known = known_periods() if periods is None else periods
    if name not in known:
        near = difflib.get_close_matches(name, known, n=3, cutoff=0.5) or sorted(known)
        raise EvidenceError(
            f"No process, mount or format is called {name!r}.",
            f"Near names: {', '.join(near)}.",
        )
    period = known[name]
    source = f"{period.source} ({period.mark})"
    if period.dates == "exposure":
        return InUse(key, name, period.span, trust=period.trust, source=source)
    span = period.span
    late = Span(None, None, span.full_to, span.fall_to)
    if span.fall_to is None:
        return InUse(key, f"{name}, a print", late, trust=period.trust, source=source)
    when = Span(span.full_to, span.full_to, span.fall_to, span.fall_to)
    return Bound(
        key, f"{name}, a print", "not after", when, trust=period.trust, source=source
    )
