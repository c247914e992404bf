"""Write a folder, or a zip of one, whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from wherestood.errors import InputError

__all__ = ["whole_at_the_end"]


def _beside(target: Path) -> Path:
    target.parent.mkdir(parents=True, exist_ok=True)
    return Path(tempfile.mkdtemp(prefix=".handing-out-", dir=target.parent))


@contextmanager
def whole_at_the_end(
    target: Path, new_beside: Callable[[Path], Path] = _beside
) -> Iterator[Path]:
    """Give a passing folder that becomes the target if all goes well.

    Parameters
    ----------
    target : Path
        A new folder, or a file ending in ``.zip``.
    new_beside : callable
        Makes a passing folder beside it, on the same disk.

    Raises
    ------
    InputError
        If it is there already, or cannot be written. Nothing is left of it then.
    """
    if target.exists():
        raise InputError(f"There is {str(target)!r} already.", "Choose another name.")
    try:
        passing = new_beside(target)
    except OSError as error:
        raise _cannot_write(target, error) from error
    try:
        folder = passing / _name(target)
        folder.mkdir()
        yield folder
        whole = folder
        if target.suffix.lower() == ".zip":
            whole = passing / target.name
            _zip(folder, whole)
        os.replace(whole, target)  # noqa: PTH105 (replaces no folder that is there)
    except OSError as error:
        raise _cannot_write(target, error) from error
    finally:
        shutil.rmtree(passing, ignore_errors=True)


def _name(target: Path) -> str:
    zipped = target.suffix.lower() == ".zip"
    return (target.stem if zipped else target.name) or "handed-out"


def _zip(folder: Path, path: Path) -> None:
    with zipfile.ZipFile(path, "x", zipfile.ZIP_DEFLATED) as packed:
        for file in sorted(folder.rglob("*")):
            packed.write(file, file.relative_to(folder.parent))


def _cannot_write(target: Path, error: OSError) -> InputError:
    return InputError(
        f"The files {str(target)!r} cannot be written ({error.strerror or error}).",
        "Make room, or choose another folder.",
    )
