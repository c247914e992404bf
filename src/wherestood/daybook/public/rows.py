"""Make rows of the catalogue for the public."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sqlalchemy import or_, select

from wherestood.daybook.catalogue.give import catalogue_rows
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.precision import FREE, Restricted, restricted_plates
from wherestood.daybook.public.naming import Naming, naming_of_restricted
from wherestood.daybook.public.people import Unnamed, unnamed_people
from wherestood.daybook.tables import Plate, Right

__all__ = ["LeftOut", "public_names", "public_rows", "public_rows_by_plate", "years_of"]

UNKNOWN = "UNKNOWN"
#: Words that a person wrote freely: what they give away no program can tell.
_FREE_WORDS = ("title", "description", "inscription", "note")
#: What may go out unless it names the place.
_NAMING = (
    "collection", "subjects", "maker", "held by", "negative number", "process", "size",
    "rights", "rights holder", "licence", "credit",
)  # fmt: skip
_RIGHTS = ("rights holder", "licence")
#: Stands where a credit would name the place, so that nobody takes it for unknown.
_WITHHELD = "withheld"
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
        out of all rows; of a plate whose place is restricted also its title and all
        free words (a title names places in ways that no program knows) unless a
        restriction gives one to be published, others
        that name the place, and all of a date but its years; its place is
        told in the words of the restriction, if it has any. Rights that nobody
        recorded are UNKNOWN. Nobody is named who may not be.
    left_out : tuple of LeftOut
    """
    yield from public_rows_by_plate(session).values()


def public_rows_by_plate(
    session: DaybookSession,
) -> dict[str, tuple[dict[str, str], tuple[LeftOut, ...]]]:
    """Return what `public_rows` gives, by the plate's id, in the same order."""
    restrictions = restricted_plates(session)
    ids = {key: one for one, key in session.execute(select(Plate.id, Plate.key))}
    namings = naming_of_restricted(session)
    forbidden = _forbidden_words(session)
    people = unnamed_people(session)
    found = {}
    for row in catalogue_rows(session):
        number = ids[row["accession number"]]
        naming = namings.get(number)
        called = _called(row["accession number"], number, naming, people)
        limits = restrictions.get(number, FREE)
        row = {**row, "accession number": called}
        without = [one for one in forbidden.get(number, ()) if row[one]]
        shown, out = _public(row | dict.fromkeys(without, ""), limits, naming)
        why = "its words may not be published"
        out += tuple(LeftOut(called, what, why) for what in without)
        nameless = people.taken_out_of(shown)
        out += tuple(
            LeftOut(
                called, f"what names or quotes somebody in {column}", "not agreed to"
            )
            for column in shown
            if nameless[column] != shown[column]
        )
        found[number] = nameless, out
    return found


def public_names(session: DaybookSession) -> dict[str, str]:
    """Return what each plate is called in public, by its id.

    Its key, unless its place is restricted and the key has a word that names it, or it
    names a person who may not be named: then the beginning of its id, which tells
    nothing and stays the same in every copy.
    """
    namings, people = naming_of_restricted(session), unnamed_people(session)
    wanted = select(Plate.id, Plate.key)
    return {
        one: _called(key, one, namings.get(one), people)
        for one, key in session.execute(wanted)
    }


def _forbidden_words(session: DaybookSession) -> dict[str, tuple[str, ...]]:
    """Return the columns of each plate that a recorded right does not let out."""
    wanted = select(Right.plate_id, Right.what).where(
        Right.removed.is_(False), Right.withdrawn.is_(None),
        Right.may_be_published.is_(False), Right.plate_id.is_not(None),
        or_(
            Right.what == "words",
            Right.what.is_(None) & (Right.about_table == "plates"),
        ),
    )  # fmt: skip
    found: dict[str, tuple[str, ...]] = {}
    for plate, what in session.execute(wanted):
        # All of the plate, where nobody said what the right is in: its title too.
        columns = _FREE_WORDS[1:] if what == "words" else _FREE_WORDS
        if plate is not None:
            found[plate] = max(columns, found.get(plate, ()), key=len)
    return found


def _called(key: str, number: str, naming: Naming | None, people: Unnamed) -> str:
    if (naming is not None and naming.found_in(key)) or people.found_in(key):
        return f"plate-{number[:8]}"
    return key


def _public(
    row: Mapping[str, str], limits: Restricted, naming: Naming | None
) -> tuple[dict[str, str], tuple[LeftOut, ...]]:
    shown = {**row, "file": ""}
    for column in _RIGHTS:
        shown[column] = shown[column] or UNKNOWN
    if naming is None:
        return shown, ()
    out: list[str] = [name for name in _FREE_WORDS if row[name]]
    shown |= {**dict.fromkeys(_FREE_WORDS, ""), "title": limits.title}
    for column in _NAMING:
        kept = [p for p in row[column].split("; ") if not naming.found_in(p)]
        if kept != row[column].split("; "):
            gone = _WITHHELD if column in _RIGHTS else ""
            shown[column] = "; ".join(kept) or gone
            out.append(column)
    shown["date"] = years_of(row["date"])
    if shown["date"] != row["date"]:
        out.append("date but for its year")
    shown["place"] = limits.words
    if row["place"] and row["place"] != limits.words:
        out.append("place")
    why = f"place published: {limits.precision}"
    key = row["accession number"]
    return shown, tuple(LeftOut(key, what, why) for what in out)


def years_of(words: str) -> str:
    """Return the years of a date: an hour and a season tell where the sun stood.

    A span that is open on one side stays so.
    """
    years = sorted(set(_YEAR.findall(words)))
    if not years:
        return ""
    if words.rstrip().endswith("/.."):
        return f"{years[0]}/.."
    if words.lstrip().startswith("../"):
        return f"../{years[-1]}"
    return years[0] if len(years) == 1 else f"{years[0]}/{years[-1]}"
