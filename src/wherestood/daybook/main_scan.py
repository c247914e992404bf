"""Find a plate's scans, and the one on which marks are made."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from wherestood.daybook.tables import Plate, Scan

__all__ = ["main_scan", "main_scan_of", "scans_of"]


def scans_of(session: Session, plate: Plate) -> list[Scan]:
    """Return the scans of a plate that were not set aside or withdrawn, by key."""
    wanted = select(Scan).where(
        Scan.plate_id == plate.id, Scan.removed.is_(False), Scan.withdrawn.is_(None)
    )
    return list(session.scalars(wanted.order_by(func.length(Scan.key), Scan.key)))


def main_scan_of(scans: Sequence[Scan]) -> Scan | None:
    """Return the scan said to be the main one, else the first; None if there is none.

    Pixels of all evidence that names no scan are those of this one.
    """
    return next((scan for scan in scans if scan.main), scans[0] if scans else None)


def main_scan(session: Session, plate: Plate) -> Scan | None:
    """Return the scan of a plate that marks are made on; None if it has none."""
    return main_scan_of(scans_of(session, plate))
