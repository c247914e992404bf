"""Write files whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from wherestood.errors import InputError

__all__ = [
    "check_folder",
    "folder_at_the_end",
    "write_bytes_atomically",
    "write_text_atomically",
]


def write_text_atomically(path: Path, text: str) -> None:
    """Write a text file under a passing name, then give it its own.

    Raises
    ------
    InputError
        If the folder cannot be written.
    """
    write_bytes_atomically(path, text.encode("utf-8"))


def write_bytes_atomically(path: Path, content: bytes) -> None:
    """Write a file under a passing name, then give it its own.

    Raises
    ------
    InputError
        If the folder cannot be written.
    """
    try:
        handle, passing = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    except OSError as error:
        raise _cannot_write(path.parent, error) from error
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        _as_other_files(Path(passing))
        Path(passing).replace(path)
    except BaseException:
        Path(passing).unlink(missing_ok=True)
        raise


def check_folder(folder: Path) -> None:
    """Refuse a folder that could not be written, before the work that fills it.

    Raises
    ------
    InputError
        If it, or the nearest of its parents that exists, is no folder or closed.
    """
    nearest = next(
        part for part in (folder, *folder.absolute().parents) if part.exists()
    )
    if not nearest.is_dir():
        raise InputError(
            f"The folder {str(folder)!r} cannot be made: {nearest.name!r} is a file.",
            "Choose another folder.",
        )
    if not os.access(nearest, os.W_OK | os.X_OK):
        raise InputError(
            f"The folder {str(folder)!r} cannot be written (Permission denied).",
            "Choose another folder.",
        )


@contextmanager
def folder_at_the_end(folder: Path, *replaces: str) -> Iterator[Path]:
    """Give a passing folder whose files move into ``folder`` if all goes well.

    Whatever interrupts the work, ``folder`` is left as it was.

    Parameters
    ----------
    folder : Path
        Where the files go.
    *replaces : str
        Patterns of file names of which ``folder`` keeps, in the end, only those
        now made: an older answer's files would pass for this one's.

    Raises
    ------
    InputError
        If the folder cannot be made or written.
    """
    created = _make(folder)
    try:
        passing = Path(tempfile.mkdtemp(prefix=".making-", dir=folder))
    except OSError as error:
        raise _cannot_write(folder, error) from error
    try:
        yield passing
        made = sorted(passing.iterdir())
        older = {file for pattern in replaces for file in folder.glob(pattern)}
        for file in made:
            _as_other_files(file)
            file.replace(folder / file.name)
        for file in older - {folder / file.name for file in made}:
            file.unlink()
    finally:
        shutil.rmtree(passing, ignore_errors=True)
        _remove_if_empty(created)


def _make(folder: Path) -> list[Path]:
    """Make a folder and its parents; return those made, deepest first."""
    missing = [part for part in (folder, *folder.parents) if not part.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _cannot_write(folder, error) from error
    return missing


def _remove_if_empty(folders: list[Path]) -> None:
    for folder in folders:
        try:
            folder.rmdir()
        except OSError:
            return


def _as_other_files(path: Path) -> None:
    """Give a passing file the rights any new file of this person's has."""
    mask = os.umask(0)
    os.umask(mask)
    path.chmod(0o666 & ~mask)


def _cannot_write(folder: Path, error: OSError) -> InputError:
    return InputError(
        f"The folder {str(folder)!r} cannot be written ({error.strerror}).",
        "Choose another folder.",
    )
