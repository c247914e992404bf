"""Read lengths in the units that plans and deeds are written in."""

from __future__ import annotations

import difflib
import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import pint

from wherestood.errors import PlanError

__all__ = ["OldUnit", "old_units", "read_length_m"]

#: Marks of feet and inches, as they stand in deeds.
_MARKS = {"'": "foot", "′": "foot", "’": "foot", '"': "inch", "″": "inch", "”": "inch"}
_FRACTIONS = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3"}
_PART = re.compile(
    r"\s*(?P<whole>\d+(?:[.,]\d+)?)?(?:\s*(?P<top>\d+)\s*/\s*(?P<below>\d+))?\s*"
    r"(?P<unit>[^\W\d_][^\d,;]*?|['′’\"″”])\.?\s*(?=$|[\d,;]|and\b)(?:[,;]\s*)?(?:and\s+)?",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class OldUnit:
    """Be a unit of length.

    Attributes
    ----------
    name : str
        What it is called.
    also : tuple of str
        Other words for it.
    length_m : float
        Its length [m].
    where : str
        Where and when it was used.
    mark : str
        ``"seen"`` if read in the source, ``"from memory"`` if not checked.
    source : str
        Where its length comes from.
    """

    name: str
    also: tuple[str, ...]
    length_m: float
    where: str
    mark: str
    source: str


@cache
def old_units() -> tuple[OldUnit, ...]:
    """Return every unit of the table, in its order."""
    text = resources.files("wherestood.plans").joinpath("units.toml").read_text("utf-8")
    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None)
    units = []
    for row in tomllib.loads(text)["unit"]:
        name = _symbol(row["name"])
        told = row["is"]
        registry.define(f"{name} = {told}" if told else f"{name} = [length]")
        units.append(
            OldUnit(
                row["name"],
                tuple(row["also"]),
                float(registry.Quantity(1.0, name).to("metre").magnitude),
                row["where"],
                row["mark"],
                row["source"],
            )
        )
    return tuple(units)


def read_length_m(words: str, *, of: str = "") -> float:
    """Read a length as it is written.

    Parameters
    ----------
    words : str
        Such as ``12 chains 50 links``, ``66' 6"``, ``137 1/2 varas``.
    of : str
        Country or town whose measure is meant, where a unit had several: ``Texas``.

    Returns
    -------
    float
        The length [m].

    Raises
    ------
    PlanError
        If it cannot be read, or a unit is not known or not one.

    Examples
    --------
    >>> round(read_length_m("12 chains 50 links"), 4)
    251.46
    >>> round(read_length_m("100 varas", of="Texas"), 4)
    84.6667
    """
    rest = words.strip()
    for sign, plain in _FRACTIONS.items():
        rest = rest.replace(sign, plain)
    total, at = 0.0, 0
    while at < len(rest):
        part = _PART.match(rest, at)
        if part is None or (part["whole"] is None and part["top"] is None):
            raise PlanError(
                f"The length {words!r} cannot be read.",
                "Write it like '12 chains 50 links' or '66 feet 6 inches'.",
            )
        count = float((part["whole"] or "0").replace(",", "."))
        if part["below"]:
            if int(part["below"]) == 0:
                raise PlanError(
                    f"The length {words!r} divides by nothing.", "Write it anew."
                )
            count += int(part["top"]) / int(part["below"])
        total += count * _unit(part["unit"].strip(), of, words).length_m
        at = part.end()
    if total <= 0.0:
        raise PlanError(f"The length {words!r} is nothing.", "Write a length above 0.")
    return total


def _symbol(name: str) -> str:
    """Return a unit's name as pint takes it."""
    return re.sub(r"\W+", "_", name.casefold()).strip("_")


@cache
def _by_word() -> dict[str, OldUnit]:
    words: dict[str, OldUnit] = {}
    for unit in old_units():
        for word in (unit.name, *unit.also):
            words[word.casefold()] = unit
    return words


def _unit(word: str, of: str, whole: str) -> OldUnit:
    """Return the unit that a word means."""
    known = _by_word()
    plain = " ".join(_MARKS.get(word, word).casefold().rstrip(".").split())
    place = of.strip().casefold()
    for tried in (f"{plain} ({place})", f"{place} {plain}") if place else ():
        if tried in known:
            return known[tried]
    if plain in known:
        return known[plain]
    several = [word for word in known if word.startswith(f"{plain} (")]
    if several:
        names = ", ".join(known[word].name for word in several)
        raise PlanError(
            f"The {plain!r} of {whole!r} was not the same everywhere.",
            f"Say whose is meant: {names}.",
        )
    near = difflib.get_close_matches(plain, known, n=3)
    raise PlanError(
        f"The unit {word!r} of {whole!r} is not known.",
        f"Is one of these meant: {', '.join(near)}?" if near else "Give it in metres.",
    )
