"""Take words out of texts and records, wherever they stand in them."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Iterator
from typing import Any

__all__ = ["SHORTEST", "STUB", "Needles", "strings_in"]

#: What stands in the place of words that were withdrawn.
STUB = "[withdrawn]"
#: Shorter words are too common to be looked for: they would be taken out of others.
SHORTEST = 4  # characters
_AT_ONCE = 500  # words in one pattern
#: A name is the same in capitals; one word alone may be another (Mark, mark), and a
#: sentence is repeated as it was written.
_OF_A_NAME = range(2, 6)  # words
#: Accents that stand apart from their letter (Unicode, combining diacritical marks).
_ACCENTS = r"\u0300-\u036f"


def strings_in(value: Any) -> Iterator[str]:
    """Give every text in a value, keys of records aside."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from strings_in(part)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from strings_in(part)


class Needles:
    """Be words that are to be found and taken out.

    Parameters
    ----------
    words : iterable of str
        Whole texts; each is found as it stands, whatever spaces and ends of lines
        are between its words, with accents apart or not, and as JSON and TOML write
        it; a name of several words in capitals and small letters too.
    """

    def __init__(self, words: Iterable[str]) -> None:
        forms = {
            form
            for word in words
            if len(word.strip()) >= SHORTEST
            for form in _forms(word.strip())
        }
        # The longest first, so that no part is taken out of a longer one.
        ordered = sorted(forms, key=lambda form: (-len(form), form))
        self._patterns = [
            re.compile(
                "|".join(_pattern(form) for form in ordered[start : start + _AT_ONCE])
            )
            for start in range(0, len(ordered), _AT_ONCE)
        ]

    def stand_in(self, value: Any) -> bool:
        """Tell whether one of the words stands in a value."""
        return any(
            pattern.search(text)
            for text in strings_in(value)
            for pattern in self._patterns
        )

    def taken_out_of(self, value: Any) -> Any:
        """Return a value in which a stub stands for each of the words."""
        if isinstance(value, str):
            for pattern in self._patterns:
                value = pattern.sub(STUB, value)
            return value
        if isinstance(value, dict):
            return {key: self.taken_out_of(part) for key, part in value.items()}
        if isinstance(value, list | tuple):
            return [self.taken_out_of(part) for part in value]
        return value


def _forms(word: str) -> set[str]:
    cases = {word}
    if len(word.split()) in _OF_A_NAME:
        cases |= {word.lower(), word.upper(), word.title()}
    written = {
        unicodedata.normalize(form, case) for case in cases for form in ("NFC", "NFD")
    }
    forms = {word} | written
    for one in sorted(forms):
        forms |= {json.dumps(one, ensure_ascii=False)[1:-1], json.dumps(one)[1:-1]}
    return forms


def _pattern(form: str) -> str:
    inside = r"\s+".join(re.escape(part) for part in form.split())
    before = r"(?<!\w)" if form[0].isalnum() else ""
    after = rf"(?![\w{_ACCENTS}])" if form[-1].isalnum() else ""
    return f"{before}{inside}{after}"
