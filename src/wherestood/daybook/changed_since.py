"""Tell what changed since a fix was made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.asked import whole_path
from wherestood.daybook.bearing import (
    bearing_columns,
    digest_of,
    name_of_input,
)
from wherestood.daybook.files_now import files_now
from wherestood.daybook.left_out import LeftOut
from wherestood.daybook.main_scan import scans_of
from wherestood.daybook.tables import ITEMS, Fix, FixInput, Item, JournalRow, Plate
from wherestood.daybook.tell_evidence import tell_evidence
from wherestood.terrain.checksum import file_sha256

__all__ = ["Changed", "changed_since"]


@dataclass(frozen=True)
class Changed:
    """Say what became of one thing a fix rests on.

    Attributes
    ----------
    what : str
        The file or item.
    how : str
        ``changed``, ``added``, ``set aside``, ``withdrawn`` or ``missing``.
    by, when, why : str
        Who did it, when (UTC) and why, where the journal knows.
    fields : tuple of str
        What of it changed.
    """

    what: str
    how: str
    by: str = ""
    when: str = ""
    why: str = ""
    fields: tuple[str, ...] = ()

    def sentence(self) -> str:
        """Return it in one sentence."""
        fields = f" ({', '.join(self.fields)})" if self.fields else ""
        by = f" by {self.by} on {self.when[:10]}" if self.by else ""
        why = f": {self.why}" if self.why else ""
        verb = {"missing": "is not there any more"}.get(self.how, f"was {self.how}")
        return f"The {self.what} {verb}{fields}{by}{why}."


def changed_since(
    session: Session, folder: Path, fix: Fix, *, files: bool = True
) -> list[Changed]:
    """Return what changed of all that a fix rests on, since it was made.

    Parameters
    ----------
    session : Session
        Of the daybook.
    folder : Path
        Its folder.
    fix : Fix
        The fix.
    files : bool
        Whether files are read to compare checksums, which takes a while.
    """
    chosen = select(FixInput).where(FixInput.fix_id == fix.id)
    rows = list(session.scalars(chosen.order_by(FixInput.key)))
    found: list[Changed] = []
    known: set[str] = set()
    moved = files_now(session, fix) if files else {}
    for row in rows:
        if row.item_id and row.item_table:
            known.add(row.item_id)
            item = session.get(ITEMS[row.item_table], row.item_id)
            if item is not None and digest_of(item) != row.sha256:
                found.append(_item_changed(session, fix, row, item))
        elif files and row.file:
            found += _file_changed(folder, row, moved)
    scan = next((row.sha256 for row in rows if row.role == "scan"), None)
    return found + _added(session, fix, known, scan)


def _item_changed(session: Session, fix: Fix, row: FixInput, item: Item) -> Changed:
    last, fields = _told(session, fix, item)
    how = "changed"
    if item.withdrawn:
        how = "withdrawn"
    elif item.removed:
        how = "set aside"
    by = (last.person, last.time, last.why) if last else ("", "", "")
    shown = tuple(sorted(fields)) if how == "changed" else ()
    return Changed(row.name, how, *by, shown)


def _told(session: Session, fix: Fix, item: Item) -> tuple[JournalRow | None, set[str]]:
    """Return the last change of an item since a fix, and all fields that changed."""
    # A skyline traced for the fix was added together with it.
    made = select(JournalRow.act).where(
        JournalRow.item_id == fix.id, JournalRow.action == "add"
    )
    chosen = (
        select(JournalRow)
        .where(
            JournalRow.item_id == item.id,
            JournalRow.number > (fix.after_journal or 0),
            JournalRow.act.not_in(made),
        )
        .order_by(JournalRow.number)
    )
    rows = list(session.scalars(chosen))
    bears = set(bearing_columns(item))
    fields = {name for row in rows for name in (row.after or {}) if name in bears}
    return (rows[-1] if rows else None), fields - {"removed", "withdrawn"}


def _added(
    session: Session, fix: Fix, known: set[str], sha256: str | None
) -> list[Changed]:
    plate = session.get_one(Plate, fix.plate_id)
    scans = scans_of(session, plate)
    scan_id = next((scan.id for scan in scans if scan.sha256 == sha256), None)
    now = tell_evidence(session, plate, scan_id).items
    asked: dict[str, Any] = (fix.question or {}).get("asked", {})
    left_out = LeftOut.of(asked.get("more", {}))
    found = []
    for item in now:
        # What was left out on purpose was there, and did not come since.
        if item.id not in known and not left_out.holds(item):
            last, _ = _told(session, fix, item)
            by = (last.person, last.time, last.why) if last else ("", "", "")
            found.append(Changed(name_of_input(session, item), "added", *by))
    return found


def _file_changed(
    folder: Path, row: FixInput, moved: Mapping[str, str]
) -> list[Changed]:
    file = row.file or ""
    path = whole_path(folder, moved.get(file, file))
    if not path.is_file():
        return [Changed(f"file {row.name}", "missing")]
    return (
        []
        if file_sha256(path) == row.sha256
        else [Changed(f"file {row.name}", "changed")]
    )
