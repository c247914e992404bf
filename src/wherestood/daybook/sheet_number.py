"""Number query sheets so that a number misread or mistyped is known as such."""

from __future__ import annotations

__all__ = ["check_character", "is_numbered", "numbers_of", "read_number"]

#: Of a sheet's number before its check character; hexadecimal, which tells nothing.
_LETTERS = 6
_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
#: Written by hand they are one with 0 and 1, and stand in no number.
_LOOKALIKES = str.maketrans({"O": "0", "I": "1"})


def check_character(letters: str) -> str:
    """Return the check character of a number of digits and capital letters.

    ISO/IEC 7064:2003, hybrid system MOD 37,36: it finds every single letter that is
    wrong, and nearly all pairs that changed places.

    Examples
    --------
    The Global Release Identifier A1-2425G-ABC1234002-M of the recording industry
    (IFPI, GRid Standard; its example, from memory) ends in one of these:

    >>> check_character("A12425GABC1234002")
    'M'
    """
    size = len(_ALPHABET)
    product = size
    for letter in letters:
        total = (product + _ALPHABET.index(letter)) % size or size
        product = total * 2 % (size + 1)
    return _ALPHABET[(1 - product) % size]


def numbers_of(lead_id: str) -> list[str]:
    """Return the numbers that a lead's sheet may have, the first that is free.

    Parameters
    ----------
    lead_id : str
        32 hexadecimal digits, drawn by chance: pieces of it tell nothing.
    """
    whole = lead_id.upper()
    pieces = [
        whole[start : start + length]
        for length in (_LETTERS, len(whole) // 2)
        for start in range(len(whole) - length + 1)
    ]
    numbers = [piece + check_character(piece) for piece in pieces]
    return [one for one in numbers if one[-1] not in "OI"]


def read_number(written: str) -> str:
    """Return a number as it is kept: without spaces and hyphens, in capitals."""
    bare = "".join(letter for letter in written.upper() if letter not in " -")
    return bare.translate(_LOOKALIKES)


def is_numbered(number: str) -> bool:
    """Tell whether something is the number of a sheet, its check character fitting."""
    known = len(number) > _LETTERS and all(letter in _ALPHABET for letter in number)
    return known and check_character(number[:-1]) == number[-1]
