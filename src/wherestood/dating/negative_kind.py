"""Weigh what a plate's glass and coat tell: wet plate, dry plate or film.

Each clue multiplies the odds by how often it is seen on plates of each kind. The shares
are of the trade's common practice; what is seen is in manuals and museum notes, how
often is from memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from wherestood.dating.periods import Period
from wherestood.dating.weigh import Weighed
from wherestood.errors import EvidenceError

__all__ = ["CLUES", "KINDS", "Clue", "kinds_by_date", "weigh_kinds"]

KINDS = ("wet plate", "dry plate", "film")
#: Periods in which each kind was made, by their names.
_MADE_IN = {
    "wet plate": ("wet collodion negative",),
    "dry plate": ("dry collodion negative", "gelatin dry plate"),
    "film": ("nitrate film", "safety film"),
}
#: Of a kind at a time when it was not made: what glass and coat show may overrule a
#: date that is wrong.
_NOT_MADE = 0.01


@dataclass(frozen=True)
class Clue:
    """Be something to see on a negative.

    Attributes
    ----------
    name, what : str
        What it is called, and what is seen.
    shares : tuple of float
        In what share of wet plates, dry plates and films it is seen.
    mark : str
        ``"seen"`` where a source names it for one kind; the shares are from memory.
    """

    name: str
    what: str
    shares: tuple[float, float, float]
    mark: str


CLUES = {
    clue.name: clue
    for clue in (
        Clue("thick glass", "glass of 2 mm or more", (0.7, 0.1, 0.001), "seen"),
        Clue("thin glass", "glass under 1.6 mm", (0.15, 0.8, 0.001), "seen"),
        Clue("rough edges", "rough or ground edges", (0.6, 0.08, 0.001), "seen"),
        Clue("cut edges", "clean edges, cut by machine", (0.2, 0.85, 0.5), "seen"),
        Clue("uneven coat", "coat uneven, with flow lines", (0.7, 0.05, 0.01), "seen"),
        Clue("even coat", "coat even to the edges", (0.2, 0.9, 0.95), "seen"),
        Clue("thumb mark", "a corner bare where it was held",
             (0.4, 0.01, 0.005), "seen"),
        Clue("varnish", "varnished over the image", (0.85, 0.15, 0.01), "from memory"),
        Clue("cream tone", "image brown or cream by reflected light",
             (0.8, 0.03, 0.01), "from memory"),
        Clue("silver mirror", "silvery sheen at the edges",
             (0.03, 0.5, 0.3), "from memory"),
        Clue("odd size", "no size of the trade", (0.3, 0.03, 0.05), "common practice"),
        Clue("flexible", "a flexible base", (0.001, 0.001, 0.99), "common practice"),
        Clue("notches", "code notches in an edge", (0.001, 0.001, 0.3), "from memory"),
    )
}  # fmt: skip


def weigh_kinds(
    seen: Iterable[str], before: Mapping[str, float] | None = None
) -> dict[str, float]:
    """Return how probable each kind of negative is.

    Parameters
    ----------
    seen : iterable of str
        Names of clues.
    before : mapping of str to float, optional
        How probable each kind was, as by the plate's date; else all alike.

    Returns
    -------
    dict of str to float
        By kind, adding up to 1.

    Raises
    ------
    EvidenceError
        If a clue is not known, or two exclude each other.
    """
    names = list(dict.fromkeys(seen))
    for name in names:
        if name not in CLUES:
            raise EvidenceError(
                f"No clue is called {name!r}.", f"Known: {', '.join(CLUES)}."
            )
    for one, other in (("thick glass", "thin glass"), ("uneven coat", "even coat"),
                       ("rough edges", "cut edges")):  # fmt: skip
        if one in names and other in names:
            raise EvidenceError(
                f"{one[:1].upper()}{one[1:]} and {other} exclude each other.",
                "Leave the doubtful one out.",
            )
    weights = np.array([1.0 if before is None else before.get(k, 0.0) for k in KINDS])
    for name in names:
        weights = weights * CLUES[name].shares
    total = float(weights.sum())
    if not total > 0.0:
        raise EvidenceError(
            "No kind of negative is possible before anything is seen.",
            "Give at least one kind a probability.",
        )
    return {
        kind: float(weight / total) for kind, weight in zip(KINDS, weights, strict=True)
    }


def kinds_by_date(date: Weighed, periods: Mapping[str, Period]) -> dict[str, float]:
    """Return how probable each kind of negative is by a plate's date alone.

    Parameters
    ----------
    date : Weighed
        The probability of every month, without what the process itself says of it.
    periods : mapping of str to Period
        Those known; of each month the kinds share by how far each was in use.

    Returns
    -------
    dict of str to float
        By kind, adding up to 1.
    """
    in_use = np.array(
        [
            np.max([periods[name].span.agrees(date.months) for name in names], axis=0)
            for names in _MADE_IN.values()
        ]
    )
    shares = np.maximum(in_use, _NOT_MADE)
    told = (shares / shares.sum(axis=0)) @ date.probability
    return dict(zip(_MADE_IN, (told / told.sum()).tolist(), strict=True))
