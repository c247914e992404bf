"""Open the folder of a daybook, to read it and to write in it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from sqlite3 import Connection

from sqlalchemy import URL, Engine, make_url, text
from sqlalchemy.exc import ArgumentError
from sqlalchemy.orm.exc import StaleDataError

from wherestood.daybook.act import Act, Action, Clock, utc_now
from wherestood.daybook.asked import whole_path
from wherestood.daybook.connection import (
    APPLICATION_ID,
    is_sqlite,
    lock_for_writing,
    make_engine,
)
from wherestood.daybook.database_file import database_url
from wherestood.daybook.files_held import (
    ADDRESS_FILE,
    DATABASE,
    ORIGINALS,
    OUT,
    TERRAIN,
)
from wherestood.daybook.forced import force_file, force_folder, make_folders
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.schema import newest_schema, schema_of, upgrade
from wherestood.daybook.scrub import finish
from wherestood.daybook.trouble import told_plainly
from wherestood.daybook.whereabouts import Whereabouts, look_about
from wherestood.errors import DaybookError, InputError

__all__ = ["ADDRESS_FILE", "DATABASE", "ORIGINALS", "OUT", "TERRAIN", "Daybook"]

SQLITE_MAGIC = b"SQLite format 3\x00"  # https://sqlite.org/fileformat.html, 1.3.1


@dataclass
class Daybook:
    """Be an open daybook.

    Attributes
    ----------
    folder : Path
        The folder.
    engine : Engine
        Its database.
    read_only : bool
        Whether nothing can be written, as the folder is closed to this person.
    whereabouts : Whereabouts
        Where the folder lies.
    upgraded_from : int or None
        Number of the older schema that it had until now.
    clock : callable
        Returns the time, UTC.
    finished : bool
        False where something withdrawn could not yet be overwritten.
    """

    folder: Path
    engine: Engine
    read_only: bool = False
    whereabouts: Whereabouts = field(default_factory=Whereabouts)
    upgraded_from: int | None = None
    clock: Clock = utc_now
    finished: bool = True
    _kept: Connection | None = None

    @classmethod
    def create(cls, folder: str | Path, *, url: str | None = None) -> Daybook:
        """Make a daybook in a folder that has none.

        Parameters
        ----------
        folder : str or Path
            The folder; made if need be.
        url : str, optional
            Address of a PostgreSQL database for what is judged, such as
            ``postgresql+psycopg://ada@localhost/valley``; the folder then holds
            files alone. Keep passwords out of it: PostgreSQL has ``~/.pgpass``.

        Raises
        ------
        DaybookError
            If there is one already, or the folder cannot be written.
        """
        place = Path(folder)
        if (place / DATABASE).exists() or (place / ADDRESS_FILE).exists():
            raise DaybookError(
                f"The folder {str(place)!r} holds a daybook already.",
                "Open it, or choose another folder.",
            )
        if url is not None:
            _server_url(url)
        try:
            make_folders(place)
            for name in (ORIGINALS, TERRAIN, OUT):
                make_folders(place / name)
            if url is not None:
                (place / ADDRESS_FILE).write_text(url + "\n", encoding="utf-8")
                force_file(place / ADDRESS_FILE)
        except OSError as error:
            raise DaybookError(
                f"The folder {str(place)!r} cannot be written ({error.strerror}).",
                "Choose another folder.",
            ) from error
        try:
            made = cls._opened(place)
        except BaseException:
            # An address that leads nowhere would be followed at the next attempt.
            (place / ADDRESS_FILE).unlink(missing_ok=True)
            raise
        force_folder(place)
        return made

    @classmethod
    def open(cls, folder: str | Path, *, reading: bool = False) -> Daybook:
        """Open a daybook, bringing an older one up to date.

        Parameters
        ----------
        folder : str or Path
            Its folder.
        reading : bool
            Whether nothing in the folder is to be changed: an older one is brought up
            to date in memory alone.

        Raises
        ------
        DaybookError
            If there is none, it is damaged, or a newer program made it.
        """
        place = Path(folder)
        if not (place / DATABASE).exists() and not (place / ADDRESS_FILE).exists():
            raise DaybookError(
                f"The folder {str(place)!r} holds no daybook.",
                "Name its folder, or make one with wherestood daybook new.",
            )
        return cls._opened(place, reading=reading)

    @classmethod
    def _opened(cls, place: Path, *, reading: bool = False) -> Daybook:
        about = look_about(place)
        kept: Connection | None = None
        if (place / ADDRESS_FILE).exists():
            url = _server_url((place / ADDRESS_FILE).read_text("utf-8").strip())
            closed = reading
        else:
            _refuse_another_file(place / DATABASE)
            closed = reading or not _may_write(place)
            url, kept = database_url(place / DATABASE, closed=closed)
        engine = make_engine(
            url, journal_mode="wal" if about.is_safe else "delete", read_only=closed
        )
        try:
            with told_plainly(place):
                in_memory = kept is not None and reading
                before = _brought_up_to_date(engine, closed and not in_memory)
                finished = closed or finish(place, engine)
        except BaseException:
            engine.dispose()
            if kept is not None:
                kept.close()
            raise
        return cls(place, engine, closed, about, before, finished=finished, _kept=kept)

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()
        if self._kept is not None:
            self._kept.close()

    def __enter__(self) -> Daybook:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def path(self, name: str) -> Path:
        """Return where a file lies that is named relative to the folder, or whole.

        Raises
        ------
        DaybookError
            If it is named relative to the folder and lies outside it.
        """
        return whole_path(self.folder, name)

    def _session(self, engine: Engine) -> DaybookSession:
        # What was read or written stays readable when the session is over.
        session = DaybookSession(engine, expire_on_commit=False)
        session.clock = self.clock
        return session

    @contextmanager
    def reading(self) -> Iterator[DaybookSession]:
        """Give a session that only reads, and sees one moment."""
        engine = self.engine
        if not is_sqlite(engine):
            # As SQLite does of itself; else each statement would see another moment.
            engine = engine.execution_options(isolation_level="REPEATABLE READ")
        with told_plainly(self.folder), self._session(engine) as session:
            yield session

    @contextmanager
    def writing(
        self,
        person: str,
        why: str = "",
        *,
        action: Action | None = None,
        undoes: str | None = None,
    ) -> Iterator[DaybookSession]:
        """Give a session whose changes all happen at the end, or none.

        Parameters
        ----------
        person : str
            Who writes.
        why : str
            In their words.
        action, undoes
            As of `wherestood.daybook.act.Act`.

        Raises
        ------
        DaybookError
            If it cannot be written, or somebody changed the same item meanwhile.
        """
        if self.read_only:
            raise DaybookError(
                f"The folder {str(self.folder)!r} cannot be written; the daybook is "
                "open for reading alone.",
                "Ask for leave to write there, or copy the folder.",
            )
        if not person.strip():
            raise InputError(
                "Nobody is named who makes this change.", "Say who, with --person."
            )
        act = Act(person.strip(), why.strip(), action, undoes)
        writer = self.engine.execution_options(wherestood_writes=True)
        with told_plainly(self.folder), self._session(writer) as session:
            session.act = act
            with session.begin():
                # The lock is taken here, so that nothing read below can be stale.
                lock_for_writing(session.connection())
                try:
                    yield session
                    session.flush()
                except StaleDataError as error:
                    raise DaybookError(
                        "Somebody else changed the same item meanwhile; nothing was "
                        "written.",
                        "Look at it again, then make your change once more.",
                    ) from error


def _server_url(url: str) -> URL:
    try:
        made = make_url(url)
    except (ArgumentError, ValueError) as error:
        # Not repeated here: a password may stand in it.
        raise DaybookError(
            "The address of the daybook's database cannot be read.",
            "Write it as postgresql+psycopg://person@host/database.",
        ) from error
    if made.get_backend_name() != "postgresql":
        raise DaybookError(
            f"A daybook's database is a SQLite file or on PostgreSQL, not "
            f"{made.get_backend_name()!r}.",
            "Write it as postgresql+psycopg://person@host/database.",
        )
    return made.set(drivername="postgresql+psycopg")


def _may_write(place: Path) -> bool:
    file = place / DATABASE
    return os.access(place, os.W_OK | os.X_OK) and (
        not file.exists() or os.access(file, os.W_OK)
    )


def _refuse_another_file(path: Path) -> None:
    try:
        with path.open("rb") as stream:
            head = stream.read(100)
    except FileNotFoundError:
        return
    except OSError as error:
        raise DaybookError(
            f"The file {str(path)!r} cannot be read ({error.strerror}).",
            "Ask for leave to read it.",
        ) from error
    application = int.from_bytes(head[68:72], "big")
    if head and (head[:16] != SQLITE_MAGIC or application not in (0, APPLICATION_ID)):
        raise DaybookError(
            f"The file {str(path)!r} is no daybook, or its beginning is damaged.",
            "Take the folder from its last copy.",
        )


def _brought_up_to_date(engine: Engine, closed: bool) -> int | None:
    """Bring the tables up to date; return the number of an older schema."""
    if closed:
        with engine.connect() as connection:
            number = schema_of(connection)
        if number != newest_schema():
            raise DaybookError(
                f"The daybook has an older schema ({number}), and its folder cannot "
                "be written to bring it up to date.",
                "Ask for leave to write there, or copy the folder.",
            )
        return None
    before, newest = upgrade(engine)
    if before == 0 and is_sqlite(engine):
        with engine.begin() as connection:
            connection.execute(text(f"PRAGMA application_id = {APPLICATION_ID}"))
    return before if 0 < before < newest else None
