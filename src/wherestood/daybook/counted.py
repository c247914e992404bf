"""Count things in words."""

from __future__ import annotations

__all__ = ["counted"]


def counted(number: int, word: str) -> str:
    """Return a number with its word, in the plural where there is not one.

    Examples
    --------
    >>> counted(1, "plate"), counted(3, "plate")
    ('1 plate', '3 plates')
    """
    return f"{number} {word}{'' if number == 1 else 's'}"
