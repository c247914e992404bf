"""Find the forms of withdrawn words that stand elsewhere, however they are written."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from typing import Any

from wherestood.daybook.index_words import folded
from wherestood.daybook.may_hold import plain_runs
from wherestood.daybook.redact import STUB, is_spaceless, is_too_short, strings_in

__all__ = ["OtherForms"]

#: A word as a person writes it, letters with their accents apart included.
_WRITTEN = re.compile(r"[\w\u0300-\u036f]+")
_PIECE = re.compile(r"[^\W_]+")
_LONGEST_ENDING = 4  # letters: Quexworths, Quexworthova
#: So long a word within another one is no accident: altquexworthhaus.
_SHORTEST_WITHIN = 6  # letters


class OtherForms:
    """Be words that are looked for in any case, form and inflection.

    Compared without case and accents, as compatibility decomposition parts them
    (Unicode Standard Annex 15; Unicode Standard 3.13, caseless matching). A word is
    found at the beginning of another with a short ending, and a long one anywhere
    within another.

    Parameters
    ----------
    words : iterable of str
        Each single word of these is looked for.

    Attributes
    ----------
    words : list of str
        What is looked for, folded.
    runs : list of str or None
        Plain runs of letters of it, by which rows are chosen.
    """

    def __init__(self, words: Iterable[str]) -> None:
        written = {
            piece
            for word in words
            for run in _WRITTEN.findall(unicodedata.normalize("NFC", word))
            for piece in _PIECE.findall(run)
            if not is_too_short(piece)
        }
        self.words = sorted({folded(piece) for piece in written})
        #: As `wherestood.daybook.may_hold.plain_runs` gives them.
        self.runs = plain_runs(written)
        self._all = "|".join(map(re.escape, self.words))

    def found_in(self, value: Any) -> set[str]:
        """Return the forms that stand in a value, as they are written there."""
        if not self.words:
            return set()
        found = set()
        for text in strings_in(value):
            if re.search(self._all, folded(text)) is None:
                continue
            for written in _WRITTEN.findall(text.replace(STUB, " ")):
                if self._is_form(folded(written)):
                    found.add(written)
        return found

    def _is_form(self, written: str) -> bool:
        pieces = _PIECE.findall(written)
        return any(
            ((len(word) >= _SHORTEST_WITHIN or is_spaceless(word)) and word in written)
            or any(
                piece.startswith(word) and len(piece) - len(word) <= _LONGEST_ENDING
                for piece in pieces
            )
            for word in self.words
        )
