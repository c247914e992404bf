"""Take files in as they stream, to disk and no larger than allowed."""

from __future__ import annotations

import re
import shutil
import uuid
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import BinaryIO

from starlette.concurrency import run_in_threadpool

from wherestood.daybook.originals.names import safe_name
from wherestood.server.troubles import NotThereError, RefusedError, TooLargeError

__all__ = ["LARGEST_BYTES", "LARGEST_PX", "Uploads"]

#: A glass negative of 50 x 60 cm at 1200 pixels an inch in 16-bit colour is 4 GB.
LARGEST_BYTES = 8 * 1024**3
LARGEST_PX = 2_000_000_000
MOST_FILES = 5000
PART_BYTES = 1024**2
FORGOTTEN_S = 24 * 3600.0
_ID = re.compile(r"[0-9a-f]{32}\Z")


@dataclass
class _Held:
    """Count what a set holds."""

    files: int
    size_bytes: int


@dataclass(frozen=True)
class Uploads:
    """Hold files on their way in, each set in a folder of its own.

    Attributes
    ----------
    folder : Path
        Where the sets lie.
    largest_bytes : int
        What one set may hold.
    """

    folder: Path
    largest_bytes: int = LARGEST_BYTES
    _sets: dict[str, _Held] = field(default_factory=dict, repr=False, compare=False)

    def begin(self) -> str:
        """Begin a set; return its id."""
        upload_id = uuid.uuid4().hex
        (self.folder / upload_id).mkdir(parents=True)
        return upload_id

    def sweep(self, now_s: float) -> None:
        """Take away sets that nobody came back for within a day.

        Parameters
        ----------
        now_s : float
            The time, as file systems count it [s].
        """
        for place in self.folder.glob("*"):
            if _ID.match(place.name) and now_s - place.stat().st_mtime > FORGOTTEN_S:
                shutil.rmtree(place, ignore_errors=True)

    def files(self, upload_id: str) -> Path:
        """Return the folder of a set.

        Raises
        ------
        NotThereError
            If there is none.
        """
        place = self.folder / upload_id
        if not _ID.match(upload_id) or not place.is_dir():
            raise NotThereError("There is no such upload.", "Send the files again.")
        return place

    async def take(
        self, upload_id: str, name: str, stream: AsyncIterator[bytes]
    ) -> int:
        """Write a file of a set as it comes; return its size.

        Parameters
        ----------
        upload_id : str
            The set.
        name : str
            Its name, with folders before it where it came from some; each part is
            made safe, and none leads out of the set.
        stream : async iterator of bytes
            Its content.

        Raises
        ------
        TooLargeError
            If the set becomes too large; what came of the file is taken away.
        """
        place = self.files(upload_id)
        target = place.joinpath(*safe_parts(name))
        held = await run_in_threadpool(self._held, upload_id, place)
        if held.files >= MOST_FILES:
            raise TooLargeError(
                f"More than {MOST_FILES} files were sent at once.", "Send a zip."
            )
        held.files += 1
        try:
            file = await run_in_threadpool(_made, target)
        except FileExistsError as error:
            held.files -= 1
            raise RefusedError(
                f"Two files are called {target.name}.", "Give them different names."
            ) from error
        size = 0
        try:
            with file:
                async for part in _parts(stream):
                    size += len(part)
                    # Counted for the whole set, however many files come at once.
                    held.size_bytes += len(part)
                    if held.size_bytes > self.largest_bytes:
                        raise TooLargeError(
                            f"{target.name} is larger than "
                            f"{self.largest_bytes / 1024**3:.0f} GB.",
                            "Take it in from the command line, or make it smaller.",
                        )
                    await run_in_threadpool(file.write, part)
            if size == 0:
                raise RefusedError(
                    f"{target.name} is empty.", "Look at the file itself."
                )
        except BaseException:
            held.files, held.size_bytes = held.files - 1, held.size_bytes - size
            target.unlink(missing_ok=True)
            raise
        return size

    def _held(self, upload_id: str, place: Path) -> _Held:
        """Return what a set holds; what came before a restart is counted once."""
        if upload_id not in self._sets:
            there = [path for path in place.rglob("*") if path.is_file()]
            sizes = sum(path.stat().st_size for path in there)
            self._sets.setdefault(upload_id, _Held(len(there), sizes))
        return self._sets[upload_id]

    def forget(self, upload_id: str) -> None:
        """Take a set away."""
        self._sets.pop(upload_id, None)
        shutil.rmtree(self.files(upload_id), ignore_errors=True)


def _made(target: Path) -> BinaryIO:
    target.parent.mkdir(parents=True, exist_ok=True)
    return target.open("xb")


async def _parts(stream: AsyncIterator[bytes]) -> AsyncIterator[bytes]:
    """Gather what comes in small pieces: each is written by a thread of its own."""
    gathered = bytearray()
    async for chunk in stream:
        gathered += chunk
        if len(gathered) >= PART_BYTES:
            yield bytes(gathered)
            gathered.clear()
    if gathered:
        yield bytes(gathered)


def safe_parts(name: str) -> list[str]:
    """Return the parts of a name, each safe and none leading upwards.

    Raises
    ------
    RefusedError
        If nothing is left of it.
    """
    parts = [
        part
        for part in PurePosixPath(name.replace("\\", "/")).parts
        if part not in ("/", ".", "..")
    ]
    if not parts or len(parts) > 12 or len(name) > 1000:
        raise RefusedError("The file has no name that can be used.", "Rename it.")
    return [safe_name(part) for part in parts]
