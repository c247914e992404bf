"""Make file names of what people call things."""

from __future__ import annotations

import re

__all__ = ["safe_name"]

_LONGEST = 80  # characters
#: Not allowed in a file name by one system or another
#: (https://learn.microsoft.com/windows/win32/fileio/naming-a-file).
_NOT_ALLOWED = re.compile(r'[<>:"/\\|?*\x00-\x1f]+')
_RESERVED = re.compile(r"^(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)


def safe_name(key: str) -> str:
    """Return a name that every system takes for a file or folder.

    Examples
    --------
    >>> safe_name("1987/12: the mill?")
    '1987-12- the mill-'
    >>> safe_name("con")
    '_con'
    """
    name = _NOT_ALLOWED.sub("-", key)[:_LONGEST].strip(" .")
    if not name or _RESERVED.match(name):
        return f"_{name}"
    return name
