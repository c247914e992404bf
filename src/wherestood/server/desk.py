"""Hold what is open while the server runs: the daybook, who writes, what is warm."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated

from fastapi import Depends, Request
from sqlalchemy import func, select

from wherestood.daybook import Daybook
from wherestood.daybook.book import OUT
from wherestood.daybook.tables import JournalRow
from wherestood.errors import InputError
from wherestood.server.base_map.opened import BaseMaps
from wherestood.server.grounds import Grounds
from wherestood.server.jobs.room import JobRoom
from wherestood.server.scans import Scans, sweep_tiles
from wherestood.server.uploads import Uploads

__all__ = ["Book", "Desk", "DeskNeeded", "WrittenBook", "revision_of"]

JOBS, COMING = "jobs", "coming"


@dataclass
class Desk:
    """Be what all routes work at.

    Attributes
    ----------
    person : str
        Who writes.
    passing : Path
        A folder for what has no daybook yet.
    book : Daybook or None
        The open daybook.
    grounds, base_maps, scans, uploads, jobs
        What is kept warm or on its way.
    """

    person: str
    passing: Path
    book: Daybook | None = None
    grounds: Grounds = field(default_factory=Grounds)
    base_maps: BaseMaps = field(default_factory=BaseMaps)
    scans: Scans = field(default_factory=Scans)
    jobs: JobRoom = field(default_factory=JobRoom)
    uploads: Uploads = field(init=False)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        """Begin without a daybook, in the passing folder."""
        self.uploads = Uploads(self.passing / COMING)
        self.jobs.settle_in(self.passing / JOBS, None)

    def open(self, folder: Path) -> Daybook:
        """Open a daybook, and let go of the one before."""
        opened = Daybook.open(folder)
        with self._lock:
            before, self.book = self.book, opened
            self.grounds.forget()
            self.scans.forget()
            out = opened.folder / OUT
            if opened.read_only:
                self.uploads = Uploads(self.passing / COMING)
                self.jobs.settle_in(self.passing / JOBS, opened.folder)
            else:
                self.uploads = Uploads(out / COMING)
                self.uploads.sweep(time.time())
                self.jobs.settle_in(out / JOBS, opened.folder)
                sweep_tiles(opened)
        if before is not None:
            before.close()
        return opened

    def close(self) -> None:
        """Stop all work and let go of the daybook."""
        self.jobs.close()
        if self.book is not None:
            self.book.close()
            self.book = None


def revision_of(book: Daybook) -> int:
    """Return the number of the journal's last row."""
    with book.reading() as session:
        return session.scalar(select(func.max(JournalRow.number))) or 0


def _desk(request: Request) -> Desk:
    desk = request.app.state.desk
    assert isinstance(desk, Desk)
    return desk


DeskNeeded = Annotated[Desk, Depends(_desk)]


def _book(desk: DeskNeeded) -> Daybook:
    if desk.book is None:
        raise InputError("No daybook is open.", "Open the demo, or make a new daybook.")
    return desk.book


def _written(book: Annotated[Daybook, Depends(_book)]) -> Daybook:
    """Return the open daybook for a task that writes in it at its end."""
    if book.read_only:
        raise InputError(
            "The daybook is open for reading alone.", "Ask for leave to write there."
        )
    return book


Book = Annotated[Daybook, Depends(_book)]
WrittenBook = Annotated[Daybook, Depends(_written)]
