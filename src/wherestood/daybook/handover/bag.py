"""Hand a whole daybook over as a bag (RFC 8493).

A bag is a folder: what is handed over lies under ``data``, lists of checksums beside
it, so that anybody can verify it without this program. Under ``data`` lies the
daybook as it is, but for ``out``, which can be made again; its database is a SQLite
file, whatever it was.
"""

from __future__ import annotations

import logging
import os
import sqlite3
import zipfile
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import bagit
from sqlalchemy import select

from wherestood.daybook.book import DATABASE, OUT, Daybook
from wherestood.daybook.connection import is_sqlite
from wherestood.daybook.files_held import FOLDERS, TAKING_IN
from wherestood.daybook.forced import force_file, force_folder, force_tree
from wherestood.daybook.handover.copying import (
    BLOCK_BYTES,
    clear_folder,
    copy_file,
    new_beside,
)
from wherestood.daybook.handover.readme import write_readme
from wherestood.daybook.originals.fixity import Watched, watched_files, withdrawn_files
from wherestood.daybook.originals.names import safe_name
from wherestood.daybook.replay import rebuild_into
from wherestood.daybook.scrub import is_pending
from wherestood.daybook.seal import last_seal
from wherestood.daybook.tables import Plate
from wherestood.daybook.trouble import told_plainly
from wherestood.daybook.within import place_within
from wherestood.errors import DaybookError, InputError
from wherestood.progress import SILENT, Progress
from wherestood.terrain.checksum import file_sha256

__all__ = [
    "LEFT_IN_PLACE",
    "Bagged",
    "bag_info",
    "bag_name",
    "clear_folder",
    "write_bag",
    "zip_bag",
]

#: Where files that were left outside the daybook lie in a bag, by their checksum.
LEFT_IN_PLACE = "left-in-place"
#: The line of ``bag-info.txt`` that tells how the journal ended then.
_SEAL = "Journal-Seal"
#: The line of ``bag-info.txt`` that tells what issued reports lost.
_LOST = "Lost-From-Issues"
_WHAT = "A daybook: plates, what is known of them, and why."
_ACCESS = "full, restricted: it holds all that is withheld from a public copy"
logging.getLogger("bagit").addHandler(logging.NullHandler())
logging.getLogger("bagit").propagate = False


@dataclass(frozen=True)
class Bagged:
    """Hold what was handed over.

    Attributes
    ----------
    path : Path
        The bag: a folder, or a zip of one.
    plates, files : int
        How many plates the daybook has, and how many files came along.
    size_bytes : int
        Size of what it holds.
    lost : tuple of str
        Of issued reports: files that are gone or changed, in sentences.
    """

    path: Path
    plates: int
    files: int
    size_bytes: int
    lost: tuple[str, ...] = ()


def write_bag(
    daybook: Daybook,
    target: Path,
    *,
    info: Mapping[str, str] | None = None,
    progress: Progress = SILENT,
) -> Bagged:
    """Write a bag of a daybook.

    Parameters
    ----------
    daybook : Daybook
        Which.
    target : Path
        The bag's folder, or a file ending in ``.zip``; it must not be there.
    info : mapping, optional
        What ``bag-info.txt`` says besides, by RFC 8493's labels (section 2.2.2).
    progress : Progress
        Told of every MiB.

    Raises
    ------
    InputError
        If the target is there.
    DaybookError
        If a file of the daybook is missing or changed, something withdrawn is still to
        be deleted, or nothing can be written. Nothing is left of the bag then.

    Notes
    -----
    A file that an issued report lost stops nothing, as nobody can make it again: what
    is lost is told in ``bag-info.txt`` too, and a changed one comes along as it is.
    """
    if target.exists():
        raise InputError(f"There is {str(target)!r} already.", "Choose another name.")
    if is_pending(daybook.folder):
        raise DaybookError(
            "Something was withdrawn, and not all of it could be deleted yet: it would "
            "be in the bag.",
            "Close every program that has the daybook open, open it where it can be "
            "written, and hand it over then.",
        )
    with daybook.reading() as session:
        watched = list(watched_files(session))
        seal = last_seal(session.connection())
        gone = withdrawn_files(session)
        plates = len(session.scalars(select(Plate.id)).all())
    with told_plainly(target.parent):
        staging = new_beside(target, "bagging")
        try:
            bag = staging / bag_name(target)
            bag.mkdir()
            _write_database(daybook, bag)
            lost = _copy_files(daybook, bag, watched, gone, progress)
            progress.stage("taking checksums of the bag", None)
            told = bag_info(info, _ACCESS, _WHAT)
            if seal:
                told[_SEAL] = seal
            if lost:
                told[_LOST] = " ".join(lost)
            bagit.make_bag(str(bag), told, checksums=["sha256"])
            _write_readme(daybook, bag, watched)
            files, size = _counted(bag / "data")
            made = bag
            if target.suffix.lower() == ".zip":
                made = staging / target.name
                zip_bag(bag, made, progress)
            else:
                force_tree(bag)
            os.replace(made, target)  # noqa: PTH105 (replaces no folder that is there)
            force_folder(target.parent)
        finally:
            clear_folder(staging)
    return Bagged(target, plates, files, size, tuple(lost))


def bag_name(target: Path) -> str:
    """Return what the folder of a bag is called, zipped or not."""
    return target.stem if target.suffix.lower() == ".zip" else target.name


def bag_info(given: Mapping[str, str] | None, access: str, what: str) -> dict[str, str]:
    """Return the lines of ``bag-info.txt``: what the bag holds, and who may see it.

    Raises
    ------
    InputError
        If a label or what it says cannot be written there.
    """
    info = {
        "Bag-Software-Agent": f"wherestood {version('wherestood')}",
        "External-Description": what,
        "Access": access,
    }
    for label, value in (given or {}).items():
        if not label.isprintable() or not value.isprintable() or ":" in label:
            raise InputError(
                f"The label {label!r} of the bag cannot be written.",
                "Give a label without a colon, and one line of words.",
            )
        info[label] = value
    return info


def _write_database(daybook: Daybook, bag: Path) -> None:
    place = bag / DATABASE
    if is_sqlite(daybook.engine):
        # One statement, so it sees one moment, whoever writes meanwhile.
        raw = daybook.engine.raw_connection()
        with closing(raw):
            driver = raw.driver_connection
            assert driver is not None
            driver.execute("VACUUM INTO ?", (str(place),))
        return
    with Daybook.create(bag) as copy:
        rebuild_into(daybook, copy)
    # One file, without a log beside it.
    with closing(sqlite3.connect(place)) as single:
        single.execute("PRAGMA journal_mode = delete")
    (bag / OUT).rmdir()


def _copy_files(
    daybook: Daybook,
    bag: Path,
    watched: list[Watched],
    gone: Mapping[str, str],
    progress: Progress,
) -> list[str]:
    """Copy every file; return sentences of those that issued reports lost."""
    total = sum((one.size_bytes or 0) // BLOCK_BYTES + 1 for one in watched)
    progress.stage("copying files into the bag", max(total, 1))
    expected = {one.file: one for one in watched}
    lost = []
    for one in watched:
        if told := _copy_one(daybook, bag, one, progress):
            lost.append(told)
    # Files that no item names go along too: nothing is lost.
    for name in FOLDERS:
        for path in sorted((daybook.folder / name).rglob("*")):
            inside = path.relative_to(daybook.folder)
            plain = path.is_file() and not path.is_symlink()
            if (
                plain
                and TAKING_IN not in inside.parts
                and (inside.as_posix() not in expected)
            ):
                sha256 = copy_file(path, bag / inside, progress)
                if sha256 in gone:
                    raise DaybookError(
                        f"The file {inside.as_posix()} was withdrawn with "
                        f"{gone[sha256]}, and is there again.",
                        "Delete it; look what put it back.",
                    )
    return lost


def _write_readme(daybook: Daybook, bag: Path, watched: list[Watched]) -> None:
    """Write the page and the tables for readers without the program."""
    inside = {
        one.file: _name_in_bag(one, one.sha256)
        for one in watched
        if one.left_in_place and one.sha256
    }
    with daybook.reading() as session:
        write_readme(session, bag, inside, daybook.clock())
    bagit.Bag(str(bag)).save()  # its list of what lies beside the data


def _name_in_bag(one: Watched, sha256: str) -> str:
    return f"{LEFT_IN_PLACE}/{sha256}/{safe_name(Path(one.file).name)}"


def _copy_one(daybook: Daybook, bag: Path, one: Watched, progress: Progress) -> str:
    """Copy a file; return what is to be told of one that an issued report lost."""
    source = daybook.path(one.file)
    if not source.is_file():
        told = f"The file of {one.where} is gone: {one.file}."
        if one.set_aside or one.issued:
            return told if one.issued else ""  # wherestood verify goes on naming it
        raise DaybookError(told, "See wherestood verify; put it back, or set its item "
                           "aside.")  # fmt: skip
    if one.left_in_place:
        held = one.sha256 or file_sha256(source)
        name = _name_in_bag(one, held)
    else:
        name = one.file
    place = place_within(bag, name)
    if place.exists():
        return ""  # two items share it
    sha256 = copy_file(source, place, progress)
    if one.sha256 is None or sha256 == one.sha256:
        return ""
    told = f"The file of {one.where} is not what it was when it came: {one.file}."
    if not one.issued:
        raise DaybookError(
            told,
            "See wherestood verify; take it from another copy before handing it over.",
        )
    return told


def _counted(folder: Path) -> tuple[int, int]:
    sizes = [path.stat().st_size for path in folder.rglob("*") if path.is_file()]
    return len(sizes), sum(sizes)


def zip_bag(bag: Path, target: Path, progress: Progress) -> None:
    """Pack a bag into one file."""
    files = sorted(path for path in bag.rglob("*") if path.is_file())
    progress.stage("packing the bag", len(files))
    # Stored as they are: scans do not shrink, and a damaged zip loses one file only.
    with zipfile.ZipFile(target, "x", zipfile.ZIP_STORED) as packed:
        for path in files:
            packed.write(path, path.relative_to(bag.parent).as_posix())
            progress.advance()
    force_file(target)
