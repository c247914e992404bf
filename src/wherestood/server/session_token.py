"""Keep the session's token for a port, so that a page outlives a restart.

It lies where only this person can read it: beside what other programs of theirs keep
(XDG Base Directory Specification, ``XDG_STATE_HOME``). Whoever can read it could read
the daybook itself.
"""

from __future__ import annotations

import os
import re
import time
from pathlib import Path

from wherestood.server.guard import new_token

__all__ = ["kept_token", "state_folder"]

_TOKEN = re.compile(r"[A-Za-z0-9_-]{43}\Z")
LONGEST_S = 12 * 3600.0  # a working day; after it a new one is made


def kept_token(port: int, folder: Path | None = None) -> str:
    """Return the token of a port: the one of an hour ago, or a new one.

    Parameters
    ----------
    port : int
        The port that is listened to.
    folder : Path, optional
        Where it is kept; the person's own state folder unless told. Where that
        cannot be written a new one is made each time.
    """
    path = (folder or state_folder()) / f"session-{port}"
    try:
        if time.time() - path.stat().st_mtime < LONGEST_S:
            kept = path.read_text("ascii").strip()
            if _TOKEN.match(kept) and _is_private(path):
                return kept
    except (OSError, UnicodeDecodeError):
        pass
    token = new_token()
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        path.unlink(missing_ok=True)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(token)
    except OSError:
        pass  # the page must then be opened anew after a restart
    return token


def _is_private(path: Path) -> bool:
    """Tell whether nobody else can read a file; Windows keeps that elsewhere."""
    return os.name == "nt" or path.stat().st_mode & 0o077 == 0


def state_folder() -> Path:
    """Return where this person's programs keep what belongs to this machine."""
    given = os.environ.get("XDG_STATE_HOME", "")
    base = Path(given) if given and Path(given).is_absolute() else None
    return (base or Path.home() / ".local" / "state") / "wherestood"
