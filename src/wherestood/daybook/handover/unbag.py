"""Take a daybook out of a bag, verified, whole or not at all."""

from __future__ import annotations

import errno
import lzma
import os
import sqlite3
import stat
import unicodedata
import zipfile
import zlib
from collections.abc import Collection
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

import bagit
from sqlalchemy import select

from wherestood.daybook.book import DATABASE, ORIGINALS, OUT, TERRAIN, Daybook
from wherestood.daybook.files_held import FOLDERS, REPORTS
from wherestood.daybook.forced import force_folder, force_tree
from wherestood.daybook.foreign_parts import foreign_parts
from wherestood.daybook.handover.bag import LEFT_IN_PLACE, clear_folder
from wherestood.daybook.handover.brought_in import bring_in
from wherestood.daybook.handover.copying import BLOCK_BYTES, copy_file, new_beside
from wherestood.daybook.originals import Finding, verify
from wherestood.daybook.originals.names import refuse_controls
from wherestood.daybook.tables import Plate
from wherestood.daybook.trouble import told_plainly
from wherestood.errors import DaybookError, InputError
from wherestood.progress import SILENT, Progress

__all__ = ["Unbagged", "read_bag"]

# Scans hardly shrink; a file made to fill the disk unpacks to thousands of its size.
LARGEST_SWELLING = 100.0
_SMALL_BYTES = 10_000_000
_DAMAGED = (
    zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError, ValueError,
    zlib.error, lzma.LZMAError,
)  # fmt: skip
# What a bag of a daybook holds. An address or a log of a database, or a note of what is
# to be deleted, would be followed when the daybook is opened.
_HELD = (DATABASE, *FOLDERS, OUT, LEFT_IN_PLACE)


@dataclass(frozen=True)
class Unbagged:
    """Hold what came out of a bag.

    Attributes
    ----------
    folder : Path
        The daybook.
    plates, files : int
        How many plates it has, and how many files came with it.
    brought_in : tuple of str
        Files that had been left in place elsewhere and are taken in now.
    findings : tuple of Finding
        What is not as it should be; nothing serious, or it would have been refused.
    """

    folder: Path
    plates: int
    files: int
    brought_in: tuple[str, ...]
    findings: tuple[Finding, ...]


def read_bag(
    bag: Path,
    target: Path,
    person: str,
    *,
    left_alone: Collection[str] = (),
    progress: Progress = SILENT,
) -> Unbagged:
    """Take a daybook out of a bag.

    Parameters
    ----------
    bag : Path
        A bag's folder, or a zip of one; it is only read.
    target : Path
        Folder for the daybook, which must not be there, or be empty.
    person : str
        Who takes it out: files that had been left in place elsewhere are taken in
        under this name.
    left_alone : collection of str
        Ids of items whose files, where these were left in place, are not brought in.
    progress : Progress
        Told how far it has come.

    Raises
    ------
    InputError
        If it is no bag, an unsafe one, or one that is not whole, naming the file.
    DaybookError
        If what it holds is no daybook, or nothing can be written. Nothing is left of
        the daybook then.
    """
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise InputError(
            f"There is something in {str(target)!r} already.", "Choose a new folder."
        )
    with told_plainly(target.parent):
        staging = new_beside(target, "unbagging")
        try:
            opened = _opened(bag, staging / "bag", progress)
            manifest = _validated(opened, bag.name, progress)
            made = staging / "daybook"
            files = _copied(opened, made, manifest, progress)
            if not (made / DATABASE).is_file():
                raise DaybookError(
                    f"The bag {bag.name!r} holds no daybook: data/{DATABASE} is not "
                    "there.",
                    "Give a bag that wherestood bag wrote.",
                )
            for name in (ORIGINALS, TERRAIN, OUT):
                (made / name).mkdir(exist_ok=True)
            _refuse_foreign(made / DATABASE, bag.name)
            with Daybook.open(made) as daybook:
                brought_in = bring_in(daybook, person, left_alone)
                findings = tuple(verify(daybook, progress))
                with daybook.reading() as session:
                    plates = len(session.scalars(select(Plate.id)).all())
            serious = [f for f in findings if f.is_serious and not _goes_along(f)]
            if serious:
                raise DaybookError(
                    f"The daybook in the bag {bag.name!r} is not sound: "
                    f"{serious[0].sentence}",
                    "Ask for another copy.",
                )
            if target.exists():
                target.rmdir()
            force_tree(made)
            os.replace(made, target)  # noqa: PTH105 (replaces nothing that is there)
            force_folder(target.parent)
        finally:
            clear_folder(staging)
    return Unbagged(target, plates, files, brought_in, findings)


def _refuse_foreign(database: Path, bag: str) -> None:
    """Refuse a database with more in it than a daybook's before anything writes."""
    with suppress(sqlite3.DatabaseError), closing(sqlite3.connect(database)) as raw:
        if foreign := next(foreign_parts(raw), None):
            raise DaybookError(
                f"The daybook in the bag {bag!r} is not sound: its database holds "
                f"{foreign}, as none does.",
                "Ask somebody you trust for another copy.",
            )


def _goes_along(finding: Finding) -> bool:
    """Tell whether a bag may come in all the same: what is lost, is lost."""
    issued = finding.where.startswith(f"{REPORTS} ")
    return finding.trouble == "missing" or (issued and finding.trouble == "changed")


def _opened(bag: Path, unpacked: Path, progress: Progress) -> Path:
    """Return the bag's folder, unpacking a zip first."""
    if bag.is_dir():
        _refuse_links(bag)
        return bag
    if not bag.is_file():
        raise InputError(f"There is no bag {str(bag)!r}.", "Check its name.")
    try:
        with zipfile.ZipFile(bag) as packed:
            members = [m for m in packed.infolist() if not m.is_dir()]
            _refuse_unsafe(bag, members)
            progress.stage("unpacking the bag", len(members))
            unpacked.mkdir()
            for member in members:
                _unpack(bag, packed, member, unpacked / member.filename)
                progress.advance()
    except _DAMAGED as error:
        raise InputError(
            f"The file {bag.name!r} is no zip, or a damaged one.", "Copy it again."
        ) from error
    inside = [path for path in unpacked.iterdir() if path.is_dir()]
    if (unpacked / "bagit.txt").is_file():
        return unpacked
    if len(inside) == 1:
        return inside[0]
    raise InputError(
        f"The zip {bag.name!r} holds no bag: one folder with bagit.txt was expected.",
        "Give a zip of one bag.",
    )


def _unpack(
    bag: Path, packed: zipfile.ZipFile, member: zipfile.ZipInfo, place: Path
) -> None:
    """Unpack one file, or refuse the zip by its name."""
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        writing = place.open("xb")
    except OSError as error:
        if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES):
            raise
        raise InputError(
            f"The zip {bag.name!r} holds {member.filename[:80]!r}, which cannot be "
            f"unpacked beside the rest ({error.strerror}).",
            "Have it packed again.",
        ) from error
    with writing:
        try:
            with packed.open(member) as reading:
                while block := reading.read(BLOCK_BYTES):
                    writing.write(block)
        except _DAMAGED as error:
            raise InputError(
                f"The zip {bag.name!r} is damaged: {member.filename[:80]!r} cannot be "
                "unpacked.",
                "Copy it again.",
            ) from error


def _refuse_unsafe(bag: Path, members: list[zipfile.ZipInfo]) -> None:
    """Refuse a zip whose members climb out, are links, or burst."""
    seen: set[str] = set()
    for member in members:
        name = member.filename
        refuse_controls(name)
        inside = PurePosixPath(name.replace("\\", "/"))
        if not inside.parts:
            raise InputError(
                f"The zip {bag.name!r} holds a file called {name!r}, which is no name.",
                "Have it packed again.",
            )
        climbs = inside.is_absolute() or ".." in inside.parts or ":" in inside.parts[0]
        if climbs or stat.S_ISLNK(member.external_attr >> 16):
            kind = "climbs out of it" if climbs else "is a link"
            raise InputError(
                f"The zip {bag.name!r} holds {name!r}, which {kind}.",
                "Get the bag again from somebody you trust.",
            )
        # Some disks hold one name for both ways of writing a letter with its accent.
        known_as = unicodedata.normalize("NFC", name).casefold()
        if known_as in seen:
            raise InputError(
                f"The zip {bag.name!r} holds {name!r} twice.", "Have it packed again."
            )
        seen.add(known_as)
        if member.flag_bits & 0x1:
            raise InputError(
                f"The zip {bag.name!r} is locked with a password.",
                "Unpack it, and give the folder.",
            )
    unpacked = sum(member.file_size for member in members)
    swelling = unpacked / max(bag.stat().st_size, 1)
    if unpacked > _SMALL_BYTES and swelling > LARGEST_SWELLING:
        raise InputError(
            f"The zip {bag.name!r} would unpack to {unpacked / 1e6:.0f} MB, "
            f"{swelling:.0f} times its size.",
            "Get the bag again from somebody you trust.",
        )


def _refuse_links(bag: Path) -> None:
    for path in bag.rglob("*"):
        if path.is_symlink():
            raise InputError(
                f"The bag {bag.name!r} holds a link, {path.relative_to(bag)}, which "
                "may lead out of it.",
                "Get the bag again from somebody you trust.",
            )
        refuse_controls(path.name)


def _validated(folder: Path, name: str, progress: Progress) -> dict[str, str]:
    """Return the bag's own checksums by file, after every one was proved."""
    progress.stage("verifying the bag", None)
    fetch = folder / "fetch.txt"
    if fetch.is_file() and fetch.stat().st_size:
        raise InputError(
            f"The bag {name!r} lists files to be fetched from elsewhere (fetch.txt).",
            "Have it completed first.",
        )
    try:
        opened = bagit.Bag(str(folder))
        opened.validate()
        entries = opened.payload_entries()
    except bagit.BagValidationError as error:
        details = [str(detail) for detail in getattr(error, "details", ())]
        first = details[0] if details else str(error)
        raise InputError(
            f"The bag {name!r} is not whole: {first}", "Ask for another copy."
        ) from error
    except (bagit.BagError, OSError, UnicodeDecodeError) as error:
        raise InputError(
            f"{name!r} is no bag that can be read: {error}", "Ask for another copy."
        ) from error
    return {
        file: str(sums["sha256"]) for file, sums in entries.items() if "sha256" in sums
    }


def _copied(
    folder: Path, made: Path, manifest: dict[str, str], progress: Progress
) -> int:
    """Copy what the bag holds, comparing each file with the bag's list again."""
    data = folder / "data"
    files = sorted(path for path in data.rglob("*") if path.is_file())
    for path in files if (data / DATABASE).is_file() else ():
        if path.relative_to(data).parts[0] not in _HELD:
            raise InputError(
                f"The bag holds {path.relative_to(folder).as_posix()!r}, which no bag "
                "of a daybook has.",
                "Give a bag that wherestood bag wrote.",
            )
    size = sum(path.stat().st_size // BLOCK_BYTES + 1 for path in files)
    progress.stage("taking files out of the bag", max(size, 1))
    for path in files:
        inside = path.relative_to(data)
        sha256 = copy_file(path, made / inside, progress)
        listed = manifest.get(f"data/{inside.as_posix()}")
        if listed is not None and listed != sha256:
            raise InputError(
                f"The file {inside.as_posix()!r} of the bag changed while it was read.",
                "Try again.",
            )
        if inside.parts[0] in FOLDERS:
            (made / inside).chmod(0o444)
        elif inside.as_posix() == DATABASE:
            (made / inside).chmod(0o644)
    return len(files)
