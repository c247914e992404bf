"""Verify that every file and every row is as it was left."""

from __future__ import annotations

import hashlib
import stat
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from sqlalchemy import select, text
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.connection import is_sqlite
from wherestood.daybook.counted import counted
from wherestood.daybook.files_held import (
    FOLDERS,
    REPORTS,
    TAKING_IN,
    WITH_FILES,
    files_of,
    is_known,
    lies_apart,
    rows_with_files,
)
from wherestood.daybook.foreign_parts import foreign_parts
from wherestood.daybook.redact import STUB
from wherestood.daybook.replay import disagreements
from wherestood.daybook.tables import ITEMS, About, Plate
from wherestood.daybook.within import is_whole, lies_within
from wherestood.daybook.words_astray import words_astray
from wherestood.progress import SILENT, Progress
from wherestood.terrain.checksum import file_sha256

__all__ = [
    "Finding", "Trouble", "Watched", "verify", "watched_files", "withdrawn_files",
]  # fmt: skip

Trouble = Literal[
    "changed", "missing", "outside", "unreadable", "unknown file", "withdrawn",
    "writable", "database", "reference", "journal", "words",
]  # fmt: skip
_READ_BYTES = 1 << 20
_AT_ONCE = 500  # items read at a time


@dataclass(frozen=True)
class Finding:
    """Hold one thing that is not as it was left.

    Attributes
    ----------
    trouble : Trouble
        Which kind it is.
    where : str
        The item or file.
    sentence : str
        What was found, for a person to read.
    """

    trouble: Trouble
    where: str
    sentence: str

    @property
    def is_serious(self) -> bool:
        """Say whether something may be lost, rather than untidy."""
        return self.trouble not in ("unknown file", "writable", "words")


@dataclass(frozen=True)
class Watched:
    """Hold a file that an item names, and what it was when it came."""

    where: str
    file: str
    sha256: str | None
    size_bytes: int | None
    read_only: bool
    left_in_place: bool = False
    set_aside: bool = False
    issued: bool = False


def verify(daybook: Daybook, progress: Progress = SILENT) -> list[Finding]:
    """Check files by their checksums, the database, its references and its journal.

    Parameters
    ----------
    daybook : Daybook
        Which.
    progress : Progress
        Told of every MiB read.

    Returns
    -------
    list of Finding
        Empty where all is well.
    """
    with daybook.reading() as session:
        watched = list(watched_files(session))
        findings = _of_database(daybook, session)
        findings += _dangling(session)
        findings += [
            Finding("journal", "journal", sentence)
            for sentence in disagreements(session)
        ]
        findings += _of_words(session)
        gone = withdrawn_files(session)
    total = sum((one.size_bytes or 0) // _READ_BYTES + 1 for one in watched)
    progress.stage("reading every file again", max(total, 1))
    for one in watched:
        findings += _of_file(daybook, one, progress)
    findings += _unknown(daybook, {one.file for one in watched}, gone)
    return findings


def watched_files(session: Session) -> Iterator[Watched]:
    """Give every file that an item names, and what it was when it came."""
    plates = dict(session.execute(select(Plate.id, Plate.key)).all())
    for table in WITH_FILES:
        for row in rows_with_files(session, table):
            if row["withdrawn"]:
                continue
            where = f"{ITEMS[table].singular} {row['key']}"
            if table == "scans":
                where = (
                    f"scan {plates.get(row['plate_id'], row['plate_id'])}/{row['key']}"
                )
            elif table == "settings":
                where = f"{REPORTS} {row['key']}"
            for held in files_of(table, row):
                left = row.get("kept") == "left in place"
                if table == "plans":
                    left = lies_apart(held.file)
                yield Watched(
                    where,
                    held.file,
                    held.sha256,
                    held.size_bytes,
                    table != "plans" and not left,
                    left,
                    bool(row["removed"]),
                    table == "settings",
                )


def _of_file(daybook: Daybook, one: Watched, progress: Progress) -> list[Finding]:
    if not (lies_within(one.file) or (one.left_in_place and is_whole(one.file))):
        told = (
            f"The {one.where} names a file outside the daybook as its own, which is "
            f"not opened: {one.file!r}."
        )
        return [Finding("outside", one.where, told)]
    path = daybook.path(one.file)
    if not path.is_file():
        return [
            Finding(
                "missing",
                one.where,
                f"The file of {one.where} is gone: {path}. {_remedy(one)}",
            )
        ]
    try:
        digest = hashlib.sha256()
        with path.open("rb") as stream:
            while block := stream.read(_READ_BYTES):
                digest.update(block)
                progress.advance()
        mode = path.stat().st_mode
    except OSError as error:
        told = f"The file of {one.where} cannot be read ({error.strerror}): {path}."
        return [Finding("unreadable", one.where, told)]
    if one.sha256 is not None and digest.hexdigest() != one.sha256:
        told = (
            f"The file of {one.where} is not what it was when it came: {path}. "
            f"{_remedy(one)}"
        )
        return [Finding("changed", one.where, told)]
    if one.read_only and mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH):
        told = f"The file of {one.where} is as it was, but no longer read-only: {path}."
        return [Finding("writable", one.where, told)]
    return []


def _remedy(one: Watched) -> str:
    """Say what to do about a file that is gone or was changed."""
    if one.where.startswith("scan ") and not one.left_in_place:
        plate = one.where.removeprefix("scan ").rpartition("/")[0]
        return (
            "From another copy of the file it is put back by wherestood take-in FILE "
            f"--plate {plate}."
        )
    if one.issued:
        return (
            "Put it back there from another copy, or take the issue back: wherestood "
            f"reports withdraw {one.where.removeprefix(REPORTS + ' ')}."
        )
    return "Put it back there from another copy."


def withdrawn_files(session: Session) -> dict[str, str]:
    """Return what was withdrawn, by the checksum of its file, which a stub keeps."""
    return {
        row["sha256"]: f"{ITEMS[table].singular} {row['key']}"
        for table in ("scans", "plans")
        for row in rows_with_files(session, table)
        if row["withdrawn"] and row["sha256"] not in (None, STUB)
    }


def _unknown(
    daybook: Daybook, known: set[str], gone: Mapping[str, str]
) -> Iterator[Finding]:
    """Find files in the folders of what items name that none of them does."""
    for name in FOLDERS:
        for path in sorted((daybook.folder / name).rglob("*")):
            inside = path.relative_to(daybook.folder)
            if not path.is_file() or TAKING_IN in inside.parts:
                continue
            if is_known(inside, known):
                continue
            where = inside.as_posix()
            was = gone.get(file_sha256(path)) if gone else None
            if was is not None:
                told = (
                    f"The file {where} was withdrawn with {was}, and is there again. "
                    "Delete it."
                )
                yield Finding("withdrawn", where, told)
            else:
                told = f"No item names the file {where}."
                yield Finding("unknown file", where, told)


def _of_database(daybook: Daybook, session: Session) -> list[Finding]:
    if not is_sqlite(daybook.engine):
        return []  # a server watches its own pages and references
    raw = session.connection().connection.driver_connection
    assert raw is not None
    findings = [
        Finding("database", "database", f"The database holds {part}, as none does.")
        for part in foreign_parts(raw)
    ]
    for (told,) in session.execute(text("PRAGMA integrity_check(100)")):
        if told != "ok":
            findings.append(Finding("database", "database", f"SQLite reports: {told}."))
    for row in session.execute(text("PRAGMA foreign_key_check")):
        told = f"A row of {row[0]!r} refers to one of {row[2]!r} that is not there."
        findings.append(Finding("reference", str(row[0]), told))
    return findings


def _of_words(session: Session) -> Iterator[Finding]:
    """Say of how many items the index of words is wrong: searches miss these."""
    astray = sum(1 for _ in words_astray(session))
    if astray:
        told = (
            f"Searches by words miss, or find wrongly, {counted(astray, 'item')}. "
            "wherestood verify --mend-words writes their words anew."
        )
        yield Finding("words", "words", told)


def _dangling(session: Session) -> Iterator[Finding]:
    """Find notes, rights and restrictions about items that are not there."""
    for name, kind in ITEMS.items():
        if not issubclass(kind, About):
            continue
        items = select(kind).execution_options(yield_per=_AT_ONCE)
        for item in session.scalars(items):
            about = ITEMS.get(item.about_table)
            if about is None or session.get(about, item.about_id) is None:
                told = (
                    f"The {kind.singular} {item.key!r} is about an item that is not "
                    f"there ({item.about_table} {item.about_id})."
                )
                yield Finding("reference", f"{name} {item.key}", told)
