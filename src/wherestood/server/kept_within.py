"""Keep a folder of files that can be made again within a budget of bytes."""

from __future__ import annotations

import os
from collections.abc import Collection
from contextlib import suppress
from pathlib import Path

__all__ = ["keep_within", "note_used"]


def keep_within(
    folder: Path, most_bytes: int, spared: Collection[Path] = ()
) -> tuple[Path, ...]:
    """Take away the files that were used longest ago until the rest fit.

    Parameters
    ----------
    folder : Path
        Looked through with all folders in it; names that begin with a dot, which are
        being written, are let be.
    most_bytes : int
        How much may stay.
    spared : collection of Path
        Files that stay whatever they weigh.

    Returns
    -------
    tuple of Path
        What was taken away.
    """
    kept: list[tuple[float, int, Path]] = []
    for path in folder.rglob("*"):
        with suppress(OSError):
            if path.is_file() and not path.name.startswith("."):
                told = path.stat()
                kept.append((told.st_mtime, told.st_size, path))
    over = sum(size for _, size, _ in kept) - most_bytes
    gone = []
    for _, size, path in sorted(kept):
        if over <= 0:
            break
        if path in spared:
            continue
        with suppress(OSError):
            path.unlink()
            gone.append(path)
            over -= size
    return tuple(gone)


def note_used(path: Path) -> None:
    """Note that a file is used now: it is among the last to be taken away."""
    with suppress(OSError):
        os.utime(path)
