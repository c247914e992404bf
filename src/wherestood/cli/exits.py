"""Give every way of ending its exit code.

The table stands in ``docs/command-line.md`` too, held to this one by a test.
"""

from __future__ import annotations

from wherestood.errors import (
    CancelledError,
    DaybookError,
    InputError,
    TerrainError,
    WherestoodError,
)

__all__ = [
    "ANSWERED",
    "CANCELLED",
    "EXIT_CODES",
    "NOT_AS_LEFT",
    "UNEXPECTED",
    "exit_code",
]

ANSWERED = 0
UNEXPECTED = 1
NOT_AS_LEFT = 5  # what wherestood verify found
CANCELLED = 130  # 128 + 2, as a shell reports a program stopped by Ctrl-C

EXIT_CODES: dict[type[WherestoodError], int] = {
    InputError: 2,
    TerrainError: 3,
    DaybookError: 4,
    CancelledError: CANCELLED,
}


def exit_code(error: BaseException) -> int:
    """Return the exit code of an error, by the nearest class in the table."""
    if isinstance(error, KeyboardInterrupt):
        return CANCELLED
    for kind in type(error).__mro__:
        if kind in EXIT_CODES:
            return EXIT_CODES[kind]
    return UNEXPECTED
