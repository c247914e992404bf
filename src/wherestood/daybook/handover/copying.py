"""Copy files with their checksums, forced to the disk."""

from __future__ import annotations

import hashlib
import os
import tempfile
from pathlib import Path

from wherestood.daybook.forced import make_folders
from wherestood.progress import Progress

__all__ = ["copy_file", "new_beside"]

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
    """Make a passing folder beside a target, on the same disk, and return it."""
    make_folders(target.parent)
    return Path(tempfile.mkdtemp(prefix=f".{what}-", dir=target.parent))
