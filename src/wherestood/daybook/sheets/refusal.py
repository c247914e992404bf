"""Say what was not taken from a file, and why."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["Refusal", "in_order"]

_NUMBER = re.compile(r"\d+")


@dataclass(frozen=True)
class Refusal:
    """Hold one thing that was not taken.

    Attributes
    ----------
    where : str
        Its place in the file: ``row 12``, ``feature 3``, a file's name.
    what : str
        What a person knows it by; may be empty.
    why : str
        The reason, and what to do.
    """

    where: str
    what: str
    why: str

    def sentence(self) -> str:
        """Return it as one line."""
        named = f" ({self.what})" if self.what else ""
        return f"{self.where}{named}: {self.why}"

    def as_json(self) -> dict[str, str]:
        """Return it as a JSON record."""
        return {"where": self.where, "what": self.what, "why": self.why}


def in_order(refused: Iterable[Refusal]) -> tuple[Refusal, ...]:
    """Return refusals as their rows or features follow one another in the file."""

    def place(one: Refusal) -> int:
        found = _NUMBER.search(one.where)
        return int(found[0]) if found else 0

    return tuple(sorted(refused, key=place))
