"""Name the files in a daybook's folder that are none of its own."""

from __future__ import annotations

from collections.abc import Collection

from wherestood.daybook.book import Daybook
from wherestood.daybook.files_held import OUT, OWN_FILES, TAKING_IN, is_known

__all__ = ["files_beside"]


def files_beside(daybook: Daybook, known: Collection[str]) -> tuple[str, ...]:
    """Return files in the folder that are none of the daybook's own.

    Parameters
    ----------
    daybook : Daybook
        Where.
    known : collection of str
        Files, and folders of files, that items name.
    """
    found = []
    for path in sorted(daybook.folder.rglob("*")):
        inside = path.relative_to(daybook.folder)
        name = inside.as_posix()
        if not path.is_file() or name in OWN_FILES:
            continue
        if inside.parts[0] == OUT or TAKING_IN in inside.parts:
            continue
        if not is_known(inside, known):
            found.append(name)
    return tuple(found)
