"""Count things in words, one by one or many."""

from __future__ import annotations

__all__ = ["an", "counted"]


def counted(number: int, word: str) -> str:
    """Return a number with its word, in the plural where there is not one.

    Examples
    --------
    >>> counted(1, "plate"), counted(3, "plate")
    ('1 plate', '3 plates')
    """
    return f"{number} {word}{'' if number == 1 else 's'}"


def an(word: str) -> str:
    """Return a word with its article.

    Examples
    --------
    >>> an("plate"), an("informant")
    ('a plate', 'an informant')
    """
    return f"an {word}" if word[:1] in "aeiou" else f"a {word}"
