"""Say who changes a daybook, and why."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Literal

__all__ = ["LASTING", "WITHDRAWING", "Act", "Action", "Clock", "utc_now"]

Action = Literal[
    "add", "change", "remove", "restore", "undo", "redo", "withdraw", "withdraw all",
    "merge",
]  # fmt: skip
#: Taking content out for good: of items, or its words from everywhere else too.
WITHDRAWING = frozenset({"withdraw", "withdraw all"})
#: What no undo takes back, nor reaches behind unless an act is named.
LASTING = WITHDRAWING | {"merge"}
Clock = Callable[[], datetime]


def utc_now() -> datetime:
    """Return the time, UTC."""
    return datetime.now(UTC)


def _new_act() -> str:
    return uuid.uuid4().hex


@dataclass(frozen=True)
class Act:
    """Hold what every journal row of one transaction shares.

    Attributes
    ----------
    person : str
        Who does it.
    why : str
        In their words; may be empty.
    action : str or None
        What it is; told from each change where None.
    undoes : str or None
        The act that it takes back.
    id : str
        Its own id.
    """

    person: str
    why: str = ""
    action: Action | None = None
    undoes: str | None = None
    id: str = field(default_factory=_new_act)
