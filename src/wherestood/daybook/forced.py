"""Force folders to the disk, so that a power cut takes no file out of them again.

A file that was forced to the disk is there after a power cut only if the entry in its
folder is, and that of the folder in its own (https://man7.org/linux/man-pages/man2/
fsync.2.html: "an explicit fsync() on a file descriptor for the directory is also
needed").
"""

from __future__ import annotations

import errno
import os
from pathlib import Path

__all__ = ["force_file", "force_folder", "force_tree", "make_folders"]


def force_folder(folder: Path) -> None:
    """Force a folder's own entries to the disk, where the system can."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return  # Windows opens no folders
    try:
        _force(handle)
    finally:
        os.close(handle)


def _force(handle: int) -> None:
    try:
        os.fsync(handle)
    except OSError as error:
        # Some systems force no folders, and Windows nothing that is only read.
        if error.errno not in (errno.EINVAL, errno.EBADF, errno.ENOTSUP):
            raise


def force_file(path: Path) -> None:
    """Force what was written to a file to the disk."""
    with path.open("rb") as stream:
        _force(stream.fileno())


def make_folders(folder: Path) -> None:
    """Make a folder and those above it that are missing, each forced to the disk."""
    if folder.is_dir():
        return
    make_folders(folder.parent)
    folder.mkdir(exist_ok=True)
    force_folder(folder.parent)


def force_tree(folder: Path) -> None:
    """Force all files of a folder to the disk, and all folders in it and itself."""
    for path in sorted(folder.rglob("*"), reverse=True):
        if path.is_symlink():
            continue
        if path.is_dir():
            force_folder(path)
        elif path.is_file():
            force_file(path)
    force_folder(folder)
