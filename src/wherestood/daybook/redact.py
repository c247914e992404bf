"""Take words out of texts and records, wherever they stand in them."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Iterator
from typing import Any

__all__ = [
    "SHORTEST", "STUB", "Needles", "is_spaceless", "is_too_short", "strings_in",
]  # fmt: skip

#: What stands in the place of words that were withdrawn.
STUB = "[withdrawn]"
#: Shorter words are too common to be looked for: they would be taken out of others.
SHORTEST = 4  # characters
#: In writing without spaces a name of so many signs is one: 山田, 김철수.
_SHORTEST_SPACELESS = 2
#: Scripts that write no spaces between words, or join what follows to a name (Unicode
#: Standard Annex 29, 4; blocks of Thai, Lao, Myanmar, Khmer, Kana, Han, Hangul).
_SPACELESS = re.compile(
    "[\u0e00-\u0eff\u1000-\u109f\u1780-\u17ff\u3040-\u30ff\u3400-\u4dbf"
    "\u4e00-\u9fff\uac00-\ud7af\uf900-\ufaff\uff66-\uff9f\U00020000-\U0003ffff]"
)
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


def is_spaceless(text: str) -> bool:
    """Tell whether a text is in a script in which words are not set apart."""
    return _SPACELESS.search(text) is not None


def is_too_short(word: str) -> bool:
    """Tell whether a word is too short to be looked for."""
    least = _SHORTEST_SPACELESS if is_spaceless(word) else SHORTEST
    return len(word.strip()) < least


class Needles:
    """Be words that are to be found and taken out.

    Parameters
    ----------
    words : iterable of str
        Whole texts; each is found as it stands, whatever spaces and ends of lines
        are between its words, with accents apart or not, and as JSON and TOML write
        it; a name of several words in capitals and small letters too.
    instead : str
        What stands in their place.
    """

    def __init__(self, words: Iterable[str], instead: str = STUB) -> None:
        self._instead = instead
        forms = {
            form
            for word in words
            if not is_too_short(word)
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
                value = pattern.sub(lambda _: self._instead, value)
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
    apart = {
        end: end.isalnum() and not is_spaceless(end) for end in form[:1] + form[-1]
    }
    before = r"(?<!\w)" if apart[form[0]] else ""
    after = rf"(?![\w{_ACCENTS}])" if apart[form[-1]] else ""
    return f"{before}{inside}{after}"
