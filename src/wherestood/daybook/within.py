"""Keep the files that a daybook's rows name within its folder."""

from __future__ import annotations

import re
from pathlib import Path, PurePosixPath, PureWindowsPath

from wherestood.errors import DaybookError

__all__ = ["is_whole", "lies_within", "place_within"]

_PARTED = re.compile(r"[/\\]")


def is_whole(name: str) -> bool:
    """Tell whether a file is named from the root of a disk, on any system."""
    windows = PureWindowsPath(name)
    return PurePosixPath(name).is_absolute() or bool(windows.drive or windows.root)


def lies_within(name: str) -> bool:
    """Tell whether a file that is named relative to a folder lies below it.

    Names are compared, not places on the disk: a person may have put ``originals`` on
    another disk by a link.
    """
    parts = _PARTED.split(name)
    return bool(name) and not is_whole(name) and ".." not in parts and "\0" not in name


def place_within(folder: Path, name: str) -> Path:
    """Return where a file lies that is named relative to a folder.

    Raises
    ------
    DaybookError
        If it does not lie below it.
    """
    if not lies_within(name):
        raise DaybookError(
            f"The file {name!r} that an item names lies outside the folder "
            f"{str(folder)!r}.",
            "It is not opened. Say wherestood verify, and set the item aside, or take "
            "its file in.",
        )
    return folder / name
