"""Keep numbered, frozen issues of reports: never overwritten, each with checksums.

An issue is a folder in ``reports`` and a row that names its files with what they were
when they were written. A row only grows: by who received the issue, and by errata.
Where an issue is withdrawn (`wherestood.daybook.withdraw`) its files go; its number is
given to no other, and who received it can still be told.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import UTC
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.files_held import REPORT_KEY, REPORTS, files_named
from wherestood.daybook.forced import force_tree
from wherestood.daybook.originals.passing import (
    left_by_the_dead,
    mark_of_this_process,
)
from wherestood.daybook.tables import Setting
from wherestood.daybook.trouble import told_plainly
from wherestood.daybook.withdraw import Withdrawn, withdraw
from wherestood.errors import InputError
from wherestood.progress import SILENT, Progress
from wherestood.record.report import tell_report, write_report
from wherestood.record.report.facts import ReportFacts

__all__ = [
    "Issue", "errata_of", "issue_of", "issues", "keep_issue", "note_erratum",
    "note_recipient", "withdraw_issue",
]  # fmt: skip

#: Begins the name of a file that stands in the folder of an issue until its row does.
_MARK = ".issuing-"


@dataclass(frozen=True)
class Issue:
    """Hold a frozen issue of a report.

    Attributes
    ----------
    key : str
    number : int
    made, author, title : str
    plates, fixes : tuple of str
        Keys.
    public : bool
    files : tuple of dict
        ``file``, ``sha256``, ``size_bytes``.
    received : tuple of dict
        ``by``, ``when``, ``how``.
    errata : tuple of dict
        ``words``, ``by``, ``when``.
    withdrawn : str
        When its content was taken out for good, UTC; empty where it was not.
    """

    key: str
    number: int
    made: str
    author: str
    title: str
    plates: tuple[str, ...]
    fixes: tuple[str, ...]
    public: bool
    files: tuple[dict[str, Any], ...]
    received: tuple[dict[str, str], ...] = ()
    errata: tuple[dict[str, str], ...] = ()
    withdrawn: str = ""


def issues(session: Session) -> list[Issue]:
    """Return all issues, by their numbers."""
    rows = select(Setting).where(
        Setting.key.like(f"{REPORT_KEY}%"), Setting.removed.is_(False)
    )
    found = [_issue(row) for row in session.scalars(rows) if row.value]
    return sorted(found, key=lambda one: one.number)


def issue_of(session: Session, key: str) -> Issue:
    """Return an issue by its key.

    Raises
    ------
    InputError
        If there is none.
    """
    return _issue(_row(session, key))


def errata_of(session: Session, plates: Sequence[str]) -> tuple[str, ...]:
    """Return the errata to earlier issues that tell of any of these plates.

    That one was withdrawn is told as an erratum to it.
    """
    return tuple(
        f"{one.key}: {words}"
        for one in issues(session)
        if set(one.plates) & set(plates)
        for words in _errors_of(one)
    )


def _errors_of(one: Issue) -> list[str]:
    if one.withdrawn:
        return [f"withdrawn on {one.withdrawn[:10]}; it is to be used no more."]
    return [erratum["words"] for erratum in one.errata]


def keep_issue(
    book: Daybook,
    facts: ReportFacts,
    forms: Collection[str],
    person: str,
    why: str = "",
    *,
    progress: Progress = SILENT,
) -> Issue:
    """Write a report as the next issue, and keep it.

    Parameters
    ----------
    book : Daybook
    facts : ReportFacts
        What it is made of; it gets its number here.
    forms : collection of str
        As `wherestood.record.report.write_report` takes them.
    person, why : str
        Who issues it, and why.
    progress : Progress
        Told of each step.
    """
    with book.reading() as session:
        last = max((one.number for one in issues(session)), default=0)
        named = files_named(session)
    with told_plainly(book.folder):
        _clear_half_made(book, named)
        number, folder = _reserved(book.folder / REPORTS, last + 1)
        mark = folder / f"{_MARK}{mark_of_this_process()}"
        mark.touch()
    try:
        progress.stage(f"writing issue {number}")
        report = tell_report(replace(facts, issue=number))
        files = write_report(folder, report, forms)
        for path in files:
            path.chmod(0o444)
        force_tree(folder)
        value = {
            "number": number,
            "made": facts.made,
            "author": facts.author,
            "title": report.title,
            "plates": [plate.key for plate in facts.plates],
            "fixes": [plate.fix_key for plate in facts.plates if plate.fix_key],
            "public": facts.public,
            "files": [_file(book.folder, path) for path in files],
            "received": [],
            "errata": [],
        }
        with book.writing(person, why) as session:
            row = Setting(key=f"{REPORT_KEY}{number}", value=value)
            session.add(row)
            session.flush()
            kept = _issue(row)
        mark.unlink()
        return kept
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise


def note_recipient(
    book: Daybook, key: str, by: str, how: str, person: str, why: str = ""
) -> Issue:
    """Note who received an issue, when and how."""
    told = {"by": by, "when": _today(book), "how": how}
    return _grown(book, key, "received", told, person, why)


def withdraw_issue(
    book: Daybook, key: str, person: str, why: str = "", *, dry_run: bool = False
) -> tuple[Issue, Withdrawn]:
    """Take an issue back for good: its files go, its number and recipients stay.

    Copies that went out are for people to ask back.

    Returns
    -------
    issue : Issue
        With who received it.
    withdrawn : Withdrawn
        What went, or would.

    Raises
    ------
    InputError
        If there is none, or it was withdrawn before.
    """
    with book.reading() as session:
        row = _row(session, key)
    told = withdraw(book, Setting, row.id, person=person, why=why, dry_run=dry_run)
    with book.reading() as session:
        return issue_of(session, key), told


def note_erratum(
    book: Daybook, key: str, words: str, person: str, why: str = ""
) -> Issue:
    """Note what an issue has wrong; the issue itself stays as it is.

    Raises
    ------
    InputError
        If nothing is said.
    """
    if not words.strip():
        raise InputError("An erratum says what is wrong.", "Give its words.")
    told = {"words": words.strip(), "by": person, "when": _today(book)}
    return _grown(book, key, "errata", told, person, why)


def _grown(
    book: Daybook, key: str, name: str, told: dict[str, str], person: str, why: str
) -> Issue:
    with book.writing(person, why) as session:
        row = _row(session, key)
        if row.withdrawn:
            raise InputError(
                f"The issue {key} was withdrawn on {row.withdrawn[:10]}; nothing is "
                "added to it.",
                "Tell those who received it: wherestood reports show names them.",
            )
        value = dict(row.value or {})
        row.value = {**value, name: [*value[name], told]}
        session.flush()
        return _issue(row)


def _today(book: Daybook) -> str:
    return book.clock().astimezone(UTC).date().isoformat()


def _row(session: Session, key: str) -> Setting:
    wanted = select(Setting).where(Setting.key == key, Setting.removed.is_(False))
    row = session.scalars(wanted).first()
    if row is None or not key.startswith(REPORT_KEY) or not row.value:
        known = ", ".join(one.key for one in issues(session)) or "none yet"
        raise InputError(f"There is no issue {key!r} of a report.", f"Known: {known}.")
    return row


def _issue(row: Setting) -> Issue:
    told: dict[str, Any] = dict(row.value or {})
    return Issue(
        row.key, told["number"], told["made"], told["author"], told["title"],
        tuple(told["plates"]), tuple(told["fixes"]), told["public"],
        tuple(told["files"]), tuple(told["received"]), tuple(told["errata"]),
        row.withdrawn or "",
    )  # fmt: skip


def _clear_half_made(book: Daybook, named: Collection[str]) -> None:
    """Take away what processes left that were killed while they issued a report."""
    for mark in (book.folder / REPORTS).glob(f"*/{_MARK}*"):
        if not left_by_the_dead(mark, mark.name.removeprefix(_MARK)):
            continue
        home = f"{mark.parent.relative_to(book.folder).as_posix()}/"
        if any(file.startswith(home) for file in named):
            mark.unlink()  # its row was written, and all of it is there
        else:
            shutil.rmtree(mark.parent, ignore_errors=True)


def _reserved(folder: Path, number: int) -> tuple[int, Path]:
    """Make the folder of the next issue; nobody else then has its number."""
    folder.mkdir(exist_ok=True)
    while True:
        place = folder / f"{REPORT_KEY}{number}"
        try:
            place.mkdir()
        except FileExistsError:
            number += 1
        else:
            return number, place


def _file(folder: Path, path: Path) -> dict[str, Any]:
    held = path.read_bytes()
    return {
        "file": path.relative_to(folder).as_posix(),
        "sha256": hashlib.sha256(held).hexdigest(),
        "size_bytes": len(held),
    }
