"""Bring a file into a daybook so that a kill at any point leaves nothing half-done.

A file comes in under a passing name in ``originals/.taking-in`` and is forced to the
disk; then a promise is written that names the place it will have; then it is moved
there; then its row is written; then the promise goes. Whoever takes something in
next keeps the promises that were left: a file in its place without a row is taken
away again, since the file it was copied from was never touched.
"""

from __future__ import annotations

import hashlib
import json
import os
import socket
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from wherestood.daybook.files_held import ORIGINALS, TAKING_IN
from wherestood.daybook.forced import force_folder, make_folders
from wherestood.daybook.originals.names import safe_name
from wherestood.daybook.within import lies_within, place_within
from wherestood.errors import DaybookError, PlateError
from wherestood.progress import SILENT, Progress

__all__ = ["TAKING_IN", "Arrival", "arrive", "left_by_the_dead", "mark_of_this_process",
           "put_back", "sweep", "take_away"]  # fmt: skip

_READ_BYTES = 1 << 20
# What another machine left may still be going on; after a day it is not.
_STALE_S = 86_400.0
_MOST_OF_ONE_NAME = 1000

HasRow = Callable[[str], bool]


@dataclass(frozen=True)
class Arrival:
    """Hold a file that stands in its place and has no row yet.

    Attributes
    ----------
    file : str
        Where, relative to the daybook's folder, with slashes.
    sha256 : str
        Its checksum.
    size_bytes : int
        Its size.
    """

    file: str
    sha256: str
    size_bytes: int


@contextmanager
def arrive(
    folder: Path,
    source: Path,
    within: str,
    name: str,
    has_row: HasRow,
    *,
    expected_sha256: str | None = None,
    progress: Progress = SILENT,
) -> Iterator[Arrival]:
    """Put a copy of a file into its place while its row is written.

    Parameters
    ----------
    folder : Path
        The daybook's.
    source : Path
        The file, which is only read.
    within : str
        Folder within the daybook, with slashes: ``originals/1987.12``.
    name : str
        The name wanted; a number is added if it is taken.
    has_row : callable
        Says whether an item names a file, given as ``originals/1987.12/scan.tif``.
    expected_sha256 : str, optional
        What its checksum must be.
    progress : Progress
        Told of every MiB.

    Raises
    ------
    PlateError
        If the file changed while it was read.
    DaybookError
        If it cannot be written, or is not what was expected.

    Notes
    -----
    If the block ends by an error the file is taken away again, unless its row was
    written before: Ctrl-C may come between the two.
    """
    passing = _passing_folder(folder)
    mark = f"{mark_of_this_process()}{uuid.uuid4().hex}"
    part, promise = passing / f"{mark}.part", passing / f"{mark}.json"
    placed: Path | None = None
    try:
        sha256, size = _copied(source, part, progress)
        if expected_sha256 is not None and sha256 != expected_sha256:
            raise DaybookError(
                f"The file {source.name!r} is not what its record says: its checksum "
                "differs.",
                "Take the file from another copy.",
            )
        if _checksum(part) != sha256:
            raise DaybookError(
                f"The copy of {source.name!r} does not read back as it was written.",
                "The disk may be failing: check it before going on.",
            )
        part.chmod(0o444)
        placed = _place(folder, within, name, sha256, part, promise, has_row)
        yield Arrival(placed.relative_to(folder).as_posix(), sha256, size)
    except BaseException:
        if placed is not None and not has_row(placed.relative_to(folder).as_posix()):
            _remove(placed)
        _remove(promise)
        raise
    else:
        _remove(promise)
    finally:
        _remove(part)


def take_away(folder: Path, arrival: Arrival) -> None:
    """Take a file away again that came and is not needed: no row names it."""
    _remove(place_within(folder, arrival.file))


def _passing_folder(folder: Path) -> Path:
    passing = folder / ORIGINALS / TAKING_IN
    make_folders(passing)
    return passing


def _copied(source: Path, part: Path, progress: Progress) -> tuple[str, int]:
    """Copy a file and force it to the disk; return its checksum and size."""
    digest = hashlib.sha256()
    size = 0
    before = source.stat()
    progress.stage(f"copying {source.name}", max(1, before.st_size // _READ_BYTES))
    with source.open("rb") as reading, part.open("xb") as writing:
        while block := reading.read(_READ_BYTES):
            digest.update(block)
            writing.write(block)
            size += len(block)
            progress.advance()
        writing.flush()
        os.fsync(writing.fileno())
    after = source.stat()
    if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
        raise PlateError(
            f"The file {source.name!r} changed while it was read.",
            "Wait until it is finished, then take it in again.",
        )
    return digest.hexdigest(), size


def _checksum(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def put_back(
    folder: Path, source: Path, file: str, sha256: str, progress: Progress = SILENT
) -> Path | None:
    """Put a copy of a file back to the place that its row names.

    Parameters
    ----------
    folder : Path
        The daybook's.
    source : Path
        A file with every byte of the one that was lost or damaged.
    file : str
        Its place, relative to the folder.
    sha256 : str
        The checksum of both.
    progress : Progress
        Told of every MiB.

    Returns
    -------
    Path or None
        Where a damaged file that stood there lies now; nothing is deleted.

    Raises
    ------
    DaybookError
        If it cannot be written, or does not read back.
    """
    place = place_within(folder, file)
    passing = _passing_folder(folder)
    mark = f"{mark_of_this_process()}{uuid.uuid4().hex}"
    part = passing / f"{mark}.part"
    try:
        copied, _ = _copied(source, part, progress)
        if copied != sha256 or _checksum(part) != sha256:
            raise DaybookError(
                f"The copy of {source.name!r} does not read back as it was written.",
                "The disk may be failing: check it before going on.",
            )
        part.chmod(0o444)
        make_folders(place.parent)
        damaged = None
        if place.exists():
            damaged = _free(place.parent, f"{place.stem} (damaged){place.suffix}")
            place.rename(damaged)
        part.replace(place)
        force_folder(place.parent)
        return damaged
    finally:
        _remove(part)


def _free(home: Path, name: str) -> Path:
    stem, suffix = Path(name).stem, Path(name).suffix
    number, place = 1, home / name
    while place.exists():
        number += 1
        place = home / f"{stem} ({number}){suffix}"
    return place


def _place(
    folder: Path,
    within: str,
    name: str,
    sha256: str,
    part: Path,
    promise: Path,
    has_row: HasRow,
) -> Path:
    """Move the copy to a name that no file and no row has, promised beforehand."""
    home = place_within(folder, within)
    place_within(home, name)
    make_folders(home)
    stem, suffix = Path(name).stem, Path(name).suffix
    for number in range(1, _MOST_OF_ONE_NAME):
        wanted = name if number == 1 else f"{stem} ({number}){suffix}"
        taken = {path.name.casefold() for path in home.iterdir()}
        place = home / wanted
        # A row may name a file that was lost: its place is kept for it.
        if wanted.casefold() in taken or has_row(place.relative_to(folder).as_posix()):
            continue
        _write_promise(promise, place.relative_to(folder).as_posix(), sha256)
        try:
            # Held first, so that two who take in at once never share a name.
            os.close(os.open(place, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o444))
        except FileExistsError:
            continue
        part.replace(place)
        force_folder(home)
        return place
    raise DaybookError(
        f"There are {_MOST_OF_ONE_NAME} files called {name!r} in {within!r} already.",
        "Give the plate another key, or the file another name.",
    )


def _write_promise(promise: Path, file: str, sha256: str) -> None:
    with promise.open("w", encoding="utf-8") as stream:
        json.dump({"file": file, "sha256": sha256}, stream)
        stream.flush()
        os.fsync(stream.fileno())
    force_folder(promise.parent)


def _remove(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except PermissionError:
        # Windows keeps what is read-only.
        path.chmod(0o666)
        path.unlink(missing_ok=True)


def sweep(folder: Path, has_row: HasRow) -> list[str]:
    """Clear up after what was killed while it took a file in.

    Parameters
    ----------
    folder : Path
        The daybook's.
    has_row : callable
        As of `arrive`.

    Returns
    -------
    list of str
        Files that were taken away, as no row told of them.
    """
    passing = folder / ORIGINALS / TAKING_IN
    gone: list[str] = []
    if not passing.is_dir():
        return gone
    for promise in sorted(passing.glob("*.json")):
        if not _is_dead(promise):
            continue
        try:
            told = json.loads(promise.read_text("utf-8"))
            file, sha256 = str(told["file"]), str(told["sha256"])
        except (OSError, ValueError, KeyError):
            _remove(promise)  # killed while it was written: nothing was moved yet
            continue
        if not lies_within(file):
            _remove(promise)  # no promise of ours: nothing is taken away by it
            continue
        place = folder / file
        unknown = place.is_file() and not has_row(file)
        if unknown and (place.stat().st_size == 0 or _checksum(place) == sha256):
            _remove(place)
            gone.append(file)
        _remove(promise)
    for part in passing.glob("*.part"):
        if _is_dead(part):
            _remove(part)
    return gone


def mark_of_this_process() -> str:
    """Return the beginning of names by which it is known who left something."""
    return f"{os.getpid()}@{safe_name(socket.gethostname())}@"


def _is_dead(mark: Path) -> bool:
    return left_by_the_dead(mark, mark.name)


def left_by_the_dead(mark: Path, name: str) -> bool:
    """Tell whether the process that left something has ended.

    Parameters
    ----------
    mark : Path
        What it left.
    name : str
        Its name, from the mark of the process on.
    """
    process, _, rest = name.partition("@")
    host = rest.partition("@")[0]
    try:
        age_s = time.time() - mark.stat().st_mtime
    except OSError:
        return False
    elsewhere = host != safe_name(socket.gethostname()) or not process.isdecimal()
    # Asking Windows whether a process lives would end it.
    if elsewhere or sys.platform == "win32":
        return age_s > _STALE_S
    if int(process) == os.getpid():
        return False
    try:
        os.kill(int(process), 0)
    except ProcessLookupError:
        return True
    except (PermissionError, OSError):
        return age_s > _STALE_S
    return age_s > _STALE_S
