"""Arrange what was typed as the parser can read it."""

from __future__ import annotations

import re
from collections.abc import Sequence

__all__ = ["FLAGS", "arranged"]

_BEGINS_WITH_MINUS = re.compile(r"^-[\d.]+,")
_TAKES_MANY = "--terrain"
FLAGS = frozenset(  # options that take no value
    {
        "--again",
        "--all",
        "--away",
        "--change",
        "--closes",
        "--dry-run",
        "--dublin-core",
        "--each-own-lens",
        "--full",
        "--help",
        "--hills",
        "--install-completion",
        "--issue",
        "--json",
        "--keep",
        "--leave",
        "--leave-out",
        "--left-for-right",
        "--mend-words",
        "--mirrored",
        "--negative",
        "--new",
        "--no-hills",
        "--no-open",
        "--no-pictures",
        "--no-place",
        "--no-ridge-lines",
        "--no-skyline",
        "--no-statements",
        "--not-mirrored",
        "--one-habit",
        "--one-lens",
        "--open",
        "--panorama",
        "--photographs",
        "--place",
        "--positions",
        "--positive",
        "--public",
        "--ridge-lines",
        "--right-way-round",
        "--show-completion",
        "--statements",
        "--trimmed",
        "--unrelated",
        "--version",
    }
)


def arranged(arguments: Sequence[str]) -> list[str]:
    """Return arguments as the parser wants them.

    Two things it cannot read are written out: several files after one
    ``--terrain`` (once the scan or the point has been named), and a place west of
    Greenwich, whose minus sign looks like an option.
    """
    arranged_so_far: list[str] = []
    many, named = False, 0
    for position, argument in enumerate(arguments):
        if _BEGINS_WITH_MINUS.match(argument):
            argument = f" {argument}"
        is_option = argument.startswith("-") and len(argument) > 1
        follows_option = position > 0 and _wants_value(arguments[position - 1])
        if is_option:
            many = argument == _TAKES_MANY and named >= 2
        elif many and not follows_option:
            arranged_so_far.append(_TAKES_MANY)
        elif not many and not follows_option:
            named += 1
        arranged_so_far.append(argument)
    return arranged_so_far


def _wants_value(argument: str) -> bool:
    """Tell whether the next argument belongs to this one."""
    return argument.startswith("--") and argument not in FLAGS and "=" not in argument
