"""Copy files with their checksums, forced to the disk."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from contextlib import suppress
from pathlib import Path

from wherestood.daybook.forced import make_folders
from wherestood.daybook.originals.passing import (
    left_by_the_dead,
    mark_of_this_process,
)
from wherestood.progress import Progress

__all__ = ["clear_folder", "copy_file", "new_beside"]

BLOCK_BYTES = 1 << 20


def copy_file(source: Path, target: Path, progress: Progress) -> str:
    """Copy a file to a new one, with its rights to read alone; return its SHA-256.

    Raises
    ------
    OSError
        If it cannot be read or written, or the target is there.
    """
    make_folders(target.parent)
    digest = hashlib.sha256()
    with source.open("rb") as reading, target.open("xb") as writing:
        while block := reading.read(BLOCK_BYTES):
            digest.update(block)
            writing.write(block)
            progress.advance()
        writing.flush()
        os.fsync(writing.fileno())
    if not source.stat().st_mode & 0o200:
        target.chmod(0o444)
    return digest.hexdigest()


def new_beside(target: Path, what: str) -> Path:
    """Make a passing folder beside a target, on the same disk, and return it.

    What a process that was killed left of the same kind is cleared away: it may hold
    what is withdrawn by now.
    """
    make_folders(target.parent)
    for left in target.parent.glob(f".{what}-*@*@*"):
        if left_by_the_dead(left, left.name.removeprefix(f".{what}-")):
            with suppress(OSError):  # another person's, perhaps
                clear_folder(left)
    prefix = f".{what}-{mark_of_this_process()}"
    return Path(tempfile.mkdtemp(prefix=prefix, dir=target.parent))


def clear_folder(staging: Path) -> None:
    """Delete a passing folder, whose originals are read-only."""
    for path in staging.rglob("*"):
        if path.is_file() and not path.is_symlink():
            path.chmod(0o644)
    shutil.rmtree(staging, ignore_errors=True)
