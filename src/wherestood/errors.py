"""Define every error the program raises for a person to read.

The tree::

    WherestoodError
    ├── InputError          an argument, option or file of the user's is wrong
    │   ├── PlateError      a scan cannot be used
    │   ├── SkylineError    a skyline or its file cannot be used
    │   ├── LensError       lens limits leave nothing
    │   ├── AreaError       the ground searched is wrong
    │   ├── PlanError       an old plan, its pins or what is read on it cannot be used
    │   └── EvidenceError   an item of evidence, or its file, cannot be used
    ├── TerrainError        an elevation model cannot be used
    ├── DaybookError        a daybook cannot be opened, read or written
    └── CancelledError      the person stopped the work

A message says what was expected, what was got and what to do. "No answer" and
"several answers" are results, never errors.
"""

from __future__ import annotations

__all__ = [
    "AreaError",
    "CancelledError",
    "DaybookError",
    "EvidenceError",
    "InputError",
    "LensError",
    "PlanError",
    "PlateError",
    "SkylineError",
    "TerrainError",
    "WherestoodError",
]


class WherestoodError(Exception):
    """Be the base of every error the program raises on purpose.

    Parameters
    ----------
    problem : str
        What is wrong and where, in one sentence.
    remedy : str
        What the person can do about it, in one sentence; may be empty.
    """

    def __init__(self, problem: str, remedy: str = "") -> None:
        self.problem = problem
        self.remedy = remedy
        super().__init__(f"{problem} {remedy}".strip())


class InputError(WherestoodError):
    """Report an argument, option or file of the user's that cannot be used."""


class PlateError(InputError):
    """Report a scan that cannot be read or measured."""


class SkylineError(InputError):
    """Report a skyline, or its file, that cannot be used."""


class LensError(InputError):
    """Report lens limits that leave no possible camera."""


class AreaError(InputError):
    """Report a ground searched that cannot be used."""


class PlanError(InputError):
    """Report an old plan, its pins or its figures that cannot be used."""


class EvidenceError(InputError):
    """Report an item of evidence, or its file, that cannot be used.

    Parameters
    ----------
    problem, remedy : str
        As of `WherestoodError`.
    kind, item : str
        Kind and id of the item, where there is one.
    field : str
        The value at fault, as the evidence file calls it.
    """

    def __init__(
        self,
        problem: str,
        remedy: str = "",
        *,
        kind: str = "",
        item: str = "",
        field: str = "",
    ) -> None:
        super().__init__(problem, remedy)
        self.kind = kind
        self.item = item
        self.field = field


class TerrainError(WherestoodError):
    """Report an elevation model that cannot be used."""


class DaybookError(WherestoodError):
    """Report a daybook that cannot be opened, read or written."""


class CancelledError(WherestoodError):
    """Report that the person stopped the work; nothing was left half-written."""
