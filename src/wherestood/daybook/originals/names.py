"""Name files so that every system can hold them, near to their own names."""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path

from wherestood.errors import InputError

__all__ = ["refuse_controls", "safe_name"]

# What Windows refuses in a name, and the names it keeps for devices:
# https://learn.microsoft.com/windows/win32/fileio/naming-a-file.
_FORBIDDEN = re.compile(r'[<>:"/\\|?*]')
_DEVICES = re.compile(r"^(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)
_LONGEST_BYTES = 150  # most systems hold 255; a number may follow


def safe_name(name: str) -> str:
    """Return a name that every system can hold.

    Parameters
    ----------
    name : str
        A file's own name, or a plate's key.

    Raises
    ------
    InputError
        If it holds control characters.
    """
    refuse_controls(name)
    kept = _FORBIDDEN.sub("_", unicodedata.normalize("NFC", name)).strip(" .")
    if not kept or _DEVICES.match(kept):
        kept = f"_{kept}"
    stem, suffix = Path(kept).stem, Path(kept).suffix
    while len((stem + suffix).encode("utf-8")) > _LONGEST_BYTES and len(stem) > 1:
        stem = stem[:-1]
    return (stem.rstrip() + suffix)[:_LONGEST_BYTES]


def refuse_controls(name: str) -> None:
    """Refuse a file's name with control characters or what is no letter at all.

    Raises
    ------
    InputError
        Showing the name with them spelt out.
    """
    for letter in name:
        if unicodedata.category(letter) in ("Cc", "Cs"):
            shown = name.encode("unicode_escape").decode("ascii")[:80]
            raise InputError(
                f"The file name '{shown}' holds a control character, or bytes that "
                "are no letters.",
                "Rename a copy of it, and take that in.",
            )
