"""Take files in as they stream, to disk and no larger than allowed."""

from __future__ import annotations

import re
import shutil
import uuid
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from wherestood.daybook.originals.names import safe_name
from wherestood.server.troubles import NotThereError, RefusedError, TooLargeError

__all__ = ["LARGEST_BYTES", "LARGEST_PX", "Uploads"]

#: A glass negative of 50 x 60 cm at 1200 pixels an inch in 16-bit colour is 4 GB.
LARGEST_BYTES = 8 * 1024**3
LARGEST_PX = 2_000_000_000
MOST_FILES = 5000
FORGOTTEN_S = 24 * 3600.0
_ID = re.compile(r"[0-9a-f]{32}\Z")


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
        held = [path for path in place.rglob("*") if path.is_file()]
        if len(held) >= MOST_FILES:
            raise TooLargeError(
                f"More than {MOST_FILES} files were sent at once.", "Send a zip."
            )
        room = self.largest_bytes - sum(path.stat().st_size for path in held)
        target.parent.mkdir(parents=True, exist_ok=True)
        size = 0
        try:
            with target.open("xb") as file:
                async for chunk in stream:
                    size += len(chunk)
                    if size > room:
                        raise TooLargeError(
                            f"{target.name} is larger than "
                            f"{self.largest_bytes / 1024**3:.0f} GB.",
                            "Take it in from the command line, or make it smaller.",
                        )
                    file.write(chunk)
        except FileExistsError as error:
            raise RefusedError(
                f"Two files are called {target.name}.", "Give them different names."
            ) from error
        except BaseException:
            target.unlink(missing_ok=True)
            raise
        if size == 0:
            target.unlink()
            raise RefusedError(f"{target.name} is empty.", "Look at the file itself.")
        return size

    def forget(self, upload_id: str) -> None:
        """Take a set away."""
        shutil.rmtree(self.files(upload_id), ignore_errors=True)


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
