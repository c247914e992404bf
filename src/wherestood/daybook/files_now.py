"""Find where the files of a fix are now, by what they hold.

A bag takes in what had been left outside, and a merge gives another name to a file
whose name is taken: the file is the same, and its checksum tells.
"""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.tables import Fix, FixInput, Scan, TerrainLayer

__all__ = ["files_now"]


def files_now(session: Session, fix: Fix) -> Mapping[str, str]:
    """Return the files of a fix that lie elsewhere now: where they lay, where now.

    Nothing is read but the daybook: what it names, with the checksum it had.
    """
    named = _named(session)
    moved = {}
    inputs = select(FixInput).where(FixInput.fix_id == fix.id)
    for row in session.scalars(inputs):
        if not row.file or not row.sha256:
            continue
        files = named.get(row.sha256, [])
        if files and row.file not in files:
            moved[row.file] = files[0]
    return moved


def _named(session: Session) -> dict[str, list[str]]:
    """Return the files that items name, by checksum."""
    found: dict[str, list[str]] = {}
    scans = select(Scan.sha256, Scan.file).where(Scan.withdrawn.is_(None))
    for sha256, file in session.execute(scans.order_by(Scan.removed, Scan.id)):
        found.setdefault(sha256, []).append(file)
    layers = select(TerrainLayer).where(TerrainLayer.withdrawn.is_(None))
    for layer in session.scalars(layers.order_by(TerrainLayer.id)):
        for record in layer.files or ():
            if record.get("sha256"):
                found.setdefault(str(record["sha256"]), []).append(str(record["file"]))
    return found
