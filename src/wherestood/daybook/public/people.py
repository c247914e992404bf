"""Name nobody to the public who may not be named, and quote nobody who did not agree.

Names are found however they are written; words as they were told.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar, cast

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from wherestood.daybook.falling import parts_of_names
from wherestood.daybook.other_forms import OtherForms
from wherestood.daybook.redact import Needles, is_too_short
from wherestood.daybook.tables import Dating, Informant, Source, Statement

__all__ = ["NOBODY", "UNSAID", "Unnamed", "unnamed_people"]

#: Stands where somebody is named who may not be.
NOBODY = "somebody who is not named"
#: Stands where somebody is quoted who did not agree to it.
UNSAID = "words that may not be told"
_Told = TypeVar("_Told")
#: A shorter part of a name in small letters is as well a word: fisher, mason, mill.
_SHORTEST_SMALL = 7  # letters
#: A name of no more letters is no part that a withdrawal looks for.
_LONGEST_SHORT = 3
#: Fewer words are quoted by chance: they are looked for between quotes and brackets,
#: as dates and statements are told, and not alone.
_LEAST_ALONE = 3


class Unnamed:
    """Be people who are not to be named.

    Parameters
    ----------
    people : mapping of str to str
        What stands in the place of each name: `NOBODY`, or initials.
    quoted : iterable of str
        What people said who did not agree to have it published; `UNSAID` stands in its
        place.

    Notes
    -----
    Whole names are found as a withdrawal finds them
    (`wherestood.daybook.redact.Needles`), and single parts of a name in any case, form
    and inflection (`wherestood.daybook.other_forms.OtherForms`); a short part in small
    letters alone is let be. Too much is taken out rather than too little.
    """

    def __init__(self, people: Mapping[str, str], quoted: Iterable[str] = ()) -> None:
        said = [words for one in quoted if (words := one.strip())]
        alone = [words for words in said if len(words.split()) >= _LEAST_ALONE]
        self._quoted = (
            Needles([f"({words})" for words in said], f"({UNSAID})"),
            Needles([f"“{words}”" for words in said] + alone, UNSAID),
        )
        self._whole: list[Needles | _Short] = []
        self._parts: list[tuple[OtherForms, str]] = []
        for name in sorted(people, key=len, reverse=True):
            instead = people[name]
            finder = _Short if is_too_short(name) else _needles
            self._whole.append(finder(name, instead))
            forms = OtherForms(parts_of_names("informants", {"name": name}))
            if forms.words:
                self._parts.append((forms, instead))
            if surname := _short_surname(name):
                self._whole += [_Short(s, instead) for s in (surname, surname.upper())]
        # Most texts name none of them: these are told apart at once.
        self._any = Needles(people)
        self._short = [one for one in self._whole if isinstance(one, _Short)]
        self._any_part = OtherForms(
            word for forms, _ in self._parts for word in forms.words
        )

    def found_in(self, text: str) -> bool:
        """Tell whether a text names one of them."""
        return self.taken_out_of(text) != text

    def taken_out_of(self, value: _Told) -> _Told:
        """Return a value whose texts name none of them, however deep these are.

        Texts, tuples, lists, mappings and frozen dataclasses are gone through; all else
        is let be.
        """
        told: Any = value
        if isinstance(told, str):
            told = self._of_text(told)
        elif isinstance(told, tuple) and hasattr(told, "_fields"):
            told = type(told)(*(self.taken_out_of(one) for one in told))
        elif isinstance(told, tuple | list):
            told = type(told)(self.taken_out_of(one) for one in told)
        elif isinstance(told, dict):
            told = {key: self.taken_out_of(one) for key, one in told.items()}
        elif is_dataclass(told) and not isinstance(told, type):
            own = {one.name: getattr(told, one.name) for one in fields(told)}
            now = {name: self.taken_out_of(one) for name, one in own.items()}
            changed = {name: one for name, one in now.items() if one is not own[name]}
            if any(_differ(one, own[name]) for name, one in changed.items()):
                told = replace(told, **changed)
        return cast("_Told", told)

    def _of_text(self, text: str) -> str:
        for said in self._quoted:
            text = said.taken_out_of(text)
        if not (
            self._any.stand_in(text)
            or self._any_part.found_in(text)
            or any(one.taken_out_of(text) != text for one in self._short)
        ):
            return text
        for whole in self._whole:
            text = whole.taken_out_of(text)
        for forms, instead in self._parts:
            for written in sorted(forms.found_in(text), key=len, reverse=True):
                if written.islower() and len(written) < _SHORTEST_SMALL:
                    continue
                text = re.sub(rf"(?<!\w){re.escape(written)}(?!\w)", instead, text)
        return text


class _Short:
    """Be a name of few letters, which is looked for as a whole word alone."""

    def __init__(self, name: str, instead: str) -> None:
        self._pattern = re.compile(rf"(?<!\w){re.escape(name.strip())}(?!\w)")
        self._instead = instead

    def taken_out_of(self, text: str) -> str:
        """Return a text without the name."""
        return self._pattern.sub(lambda _: self._instead, text)


def _short_surname(name: str) -> str:
    """Return a last name of two or three letters, which may stand alone: Vex, Ng."""
    words = re.findall(r"[^\W\d_]+", name)
    short = len(words) > 1 and 2 <= len(words[-1]) <= _LONGEST_SHORT
    return words[-1] if short and words[-1][0].isupper() else ""


def _needles(name: str, instead: str) -> Needles:
    return Needles([name], instead)


def _differ(one: Any, other: Any) -> bool:
    """Tell whether a value was changed; what was rebuilt alike was not."""
    if isinstance(one, tuple | list) and len(one) == len(other):
        return any(_differ(a, b) for a, b in zip(one, other, strict=True))
    if isinstance(one, dict):
        return any(_differ(one[key], other[key]) for key in other)
    return one is not other and not (isinstance(one, str) and one == other)


def unnamed_people(session: Session) -> Unnamed:
    """Return the informants of a daybook who did not agree to be named, or quoted.

    One who agreed to initials is called by these. What was told by word of mouth, and
    kept as a source, is its teller's to publish.
    """
    return Unnamed(
        {
            one.name: _initials(one.name) if one.may_be_named == "initials" else NOBODY
            for one in _asked(session)
            if one.name and one.name.strip() and one.may_be_named != "yes"
        },
        tuple(dict.fromkeys(_unsaid(session))),
    )


def _unsaid(session: Session) -> Iterator[str]:
    """Give what was told in confidence, and what dates were read from it."""
    silent = or_(
        Informant.may_be_published.is_(None), Informant.may_be_published != "all"
    )
    said = select(Statement.words).join(
        Informant, Informant.id == Statement.informant_id
    )
    dated = (
        select(Dating.words)
        .join(Statement, Statement.id == Dating.statement_id)
        .join(Informant, Informant.id == Statement.informant_id)
    )
    yield from session.scalars(said.where(silent))
    yield from filter(None, session.scalars(dated.where(silent)))
    yield from filter(None, session.scalars(select(Informant.said).where(silent)))
    oral = select(Source.citation, Source.quotation)
    for told in session.execute(oral.where(Source.kind == "oral")):
        yield from filter(None, told)


def _asked(session: Session) -> Iterable[Informant]:
    return session.scalars(select(Informant).where(Informant.name.is_not(None)))


def _initials(name: str) -> str:
    letters = [part[0].upper() for part in re.findall(r"[^\W\d_]+", name)]
    return " ".join(f"{letter}." for letter in letters) or NOBODY
