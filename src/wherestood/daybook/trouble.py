"""Turn what a database reports into words and what to do."""

from __future__ import annotations

import errno
import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.exc import DBAPIError, IntegrityError

from wherestood.daybook.tables import ITEMS
from wherestood.errors import DaybookError, InputError

__all__ = ["told_plainly"]

#: Columns of a row that is added, as SQLAlchemy writes them.
_INSERTED = re.compile(r"INSERT INTO \w+ \(([^)]*)\)")
#: Part of a message of SQLite's (https://sqlite.org/rescode.html), what it means for
#: the person, and what to do.
_TROUBLES = (
    (
        ("database or disk is full", "disk i/o error", "no space left"),
        "There is no room left to write, or the disk failed; nothing was changed.",
        "Make room on the disk, then try again.",
    ),
    (
        ("database is locked", "database table is locked", "lock timeout"),
        "Another process is writing in the daybook and did not finish in time; nothing "
        "was changed.",
        "Wait until it has finished, then try again.",
    ),
    (
        ("readonly database", "unable to open database file", "permission denied"),
        "The daybook cannot be written; nothing was changed.",
        "Ask for leave to write in its folder, or copy it.",
    ),
    (
        ("malformed", "not a database", "corrupt"),
        "The database of the daybook is damaged.",
        "Take the folder from its last copy, and keep this one as it is.",
    ),
)


@contextmanager
def told_plainly(folder: Path) -> Iterator[None]:
    """Raise what a database reports as errors for a person to read.

    Parameters
    ----------
    folder : Path
        The daybook's, to be named.

    Raises
    ------
    InputError
        If a key is taken, or a reference leads nowhere.
    DaybookError
        For all else.
    """
    try:
        yield
    except IntegrityError as error:
        raise _refused(error) from error
    except (DBAPIError, sqlite3.Error) as error:
        raise _trouble(folder, str(getattr(error, "orig", error))) from error
    except OSError as error:
        if error.errno not in (errno.ENOSPC, errno.EFBIG, errno.EDQUOT, errno.EROFS):
            raise
        raise _trouble(folder, "no space left") from error


def _refused(error: IntegrityError) -> InputError:
    told = str(error.orig)
    if "unique" in told.lower() and _of_items(error):
        shown = _key_in(error)
        return InputError(
            f"The key{shown} is taken already, perhaps by an item that was set aside.",
            "Choose another key, or restore that item.",
        )
    if "foreign key" in told.lower():
        return InputError(
            "An item refers to another that is not in the daybook.",
            "Add the other one first.",
        )
    return InputError(f"The daybook refused a value: {told.splitlines()[0]}.")


def _of_items(error: IntegrityError) -> bool:
    """Tell whether a row was refused in a table of items, rather than of our own."""
    written = re.match(r"\s*(?:INSERT INTO|UPDATE) (\w+)", error.statement or "")
    return written is None or written[1] in ITEMS


def _key_in(error: IntegrityError) -> str:
    # PostgreSQL says which: Key (key)=(1987.12) already exists.
    told = str(error.orig)
    if ")=(" in told:
        return f" {told.split(')=(', 1)[1].split(')', 1)[0]!r}"
    # SQLite does not; where one row was written, it is among what was given.
    columns = _INSERTED.match(error.statement or "")
    if columns is None or not isinstance(error.params, tuple):
        return ""
    names = columns[1].replace('"', "").split(", ")
    given = dict(zip(names, error.params, strict=False))
    return f" {given['key']!r}" if isinstance(given.get("key"), str) else ""


def _trouble(folder: Path, told: str) -> DaybookError:
    for parts, problem, remedy in _TROUBLES:
        if any(part in told.lower() for part in parts):
            return DaybookError(f"{problem} ({folder})", remedy)
    first = (told.strip() or "no reason given").splitlines()[0]
    return DaybookError(
        f"The database of the daybook in {str(folder)!r} reports: {first}.",
        "Nothing was changed. If its server is down, start it and try again.",
    )
