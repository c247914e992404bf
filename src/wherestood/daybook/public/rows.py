"""Make rows of the catalogue for the public."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.catalogue.give import catalogue_rows
from wherestood.daybook.index_words import folded
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.precision import FREE, Restricted, restricted_plates
from wherestood.daybook.tables import Detail, FeatureName, Plate, Statement

__all__ = ["LeftOut", "public_names", "public_rows", "public_rows_by_plate"]

UNKNOWN = "UNKNOWN"
#: Words that a person wrote freely: what they give away no program can tell.
_FREE_WORDS = ("description", "inscription", "note")
_NAMING = ("title", "collection", "subjects")
_RIGHTS = ("rights holder", "licence")
_SHORTEST = 4  # letters of a word that names a place
#: Words of places that name none. Common practice.
_COMMON = {
    "above", "along", "below", "bridge", "church", "from", "hill", "house", "lake",
    "looking", "main", "mill", "mount", "mountain", "near", "north", "over", "park",
    "path", "river", "road", "south", "station", "street", "taken", "the", "town",
    "toward", "towards", "upper", "valley", "view", "village", "west", "east", "with",
}  # fmt: skip
_YEAR = re.compile(r"(?<!\d)(1[4-9]\d\d|20\d\d)(?!\d)")


@dataclass(frozen=True)
class LeftOut:
    """Say what of a plate stays out of a copy for the public.

    Attributes
    ----------
    plate : str
        The plate's key.
    what : str
        What stays out.
    why : str
        Why.
    """

    plate: str
    what: str
    why: str

    def sentence(self) -> str:
        """Return it in one sentence."""
        return f"{self.plate}: {self.what} left out ({self.why})."


def public_rows(
    session: DaybookSession,
) -> Iterator[tuple[dict[str, str], tuple[LeftOut, ...]]]:
    """Give every plate's row as it may be published, and what stays out of it.

    Yields
    ------
    row : dict of str to str
        As `wherestood.daybook.catalogue.catalogue_rows` gives them. File names stay
        out of all rows; of a plate whose place is restricted also all free words,
        words that name the place, and all of a date but its years; its place is
        told in the words of the restriction, if it has any. Rights that nobody
        recorded are UNKNOWN.
    left_out : tuple of LeftOut
    """
    yield from public_rows_by_plate(session).values()


def public_rows_by_plate(
    session: DaybookSession,
) -> dict[str, tuple[dict[str, str], tuple[LeftOut, ...]]]:
    """Return what `public_rows` gives, by the plate's id, in the same order."""
    restrictions = restricted_plates(session)
    plates = {
        key: (one, words)
        for one, key, words in session.execute(
            select(Plate.id, Plate.key, Plate.place_words)
        )
    }
    names = _names_by_plate(session) if restrictions else {}
    found = {}
    for row in catalogue_rows(session):
        number, place_words = plates[row["accession number"]]
        limits = restrictions.get(number, FREE)
        naming = _naming_words([place_words or "", *names.get(number, ())])
        called = _called(row["accession number"], number, limits, naming)
        found[number] = _public({**row, "accession number": called}, limits, naming)
    return found


def public_names(session: DaybookSession) -> dict[str, str]:
    """Return what each plate is called in public, by its id.

    Its key, unless its place is restricted and the key has a word that names it: then
    the beginning of its id, which tells nothing and stays the same in every copy.
    """
    restrictions = restricted_plates(session)
    names = _names_by_plate(session) if restrictions else {}
    wanted = select(Plate.id, Plate.key, Plate.place_words)
    return {
        one: _called(
            key, one, restrictions.get(one, FREE),
            _naming_words([words or "", *names.get(one, ())]),
        )
        for one, key, words in session.execute(wanted)
    }  # fmt: skip


def _called(key: str, number: str, limits: Restricted, naming: set[str]) -> str:
    if limits.is_exact or not _names(key.replace("_", " "), naming):
        return key
    return f"plate-{number[:8]}"


def _public(
    row: Mapping[str, str], limits: Restricted, naming: set[str]
) -> tuple[dict[str, str], tuple[LeftOut, ...]]:
    shown = {**row, "file": ""}
    for column in _RIGHTS:
        shown[column] = shown[column] or UNKNOWN
    if limits.is_exact:
        return shown, ()
    out: list[str] = [name for name in _FREE_WORDS if row[name]]
    shown |= dict.fromkeys(_FREE_WORDS, "")
    for column in _NAMING:
        kept = [part for part in row[column].split("; ") if not _names(part, naming)]
        shown[column] = "; ".join(kept)
        if shown[column] != row[column]:
            out.append(column)
    shown["date"] = _years(row["date"])
    if shown["date"] != row["date"]:
        out.append("date but for its year")
    shown["place"] = limits.words
    if row["place"] and row["place"] != limits.words:
        out.append("place")
    why = f"place published: {limits.precision}"
    key = row["accession number"]
    return shown, tuple(LeftOut(key, what, why) for what in out)


def _names_by_plate(session: Session) -> dict[str, list[str]]:
    """Return the names of all features that are tied to each plate."""
    names: dict[str, list[str]] = {}
    wanted = select(FeatureName.feature_id, FeatureName.name)
    for named, name in session.execute(wanted):
        names.setdefault(named, []).append(name)
    found: dict[str, list[str]] = {}
    for kind in (Detail, Statement):
        tied = select(kind.plate_id, kind.feature_id).where(
            kind.feature_id.is_not(None)
        )
        for plate, feature in session.execute(tied):
            if plate is not None and feature is not None:
                found.setdefault(plate, []).extend(names.get(feature, ()))
    return found


def _words(text: str) -> set[str]:
    return set(re.findall(r"\w+", folded(text)))


def _naming_words(texts: list[str]) -> set[str]:
    words = {word for text in texts for word in _words(text)}
    return {w for w in words if len(w) >= _SHORTEST and w not in _COMMON}


def _names(text: str, naming: set[str]) -> bool:
    return bool(_words(text) & naming)


def _years(words: str) -> str:
    """Return the years of a date: an hour and a season tell where the sun stood."""
    years = sorted(set(_YEAR.findall(words)))
    if not years:
        return ""
    return years[0] if len(years) == 1 else f"{years[0]}/{years[-1]}"
