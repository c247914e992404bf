"""Say which plate of a daybook a fix is of, and open its scan."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from wherestood.cli.book import open_daybook
from wherestood.cli.screen import warn
from wherestood.errors import PlateError

if TYPE_CHECKING:
    from wherestood.ground.mapping import Mapping
    from wherestood.plate.scan import Plate

__all__ = ["fitting_scan", "plate_of_fix"]


def plate_of_fix(fix: str, daybook: Path | None) -> tuple[dict[str, str], Plate | None]:
    """Return what plate and answer of a daybook are called, and the plate's scan."""
    from wherestood.daybook.keys import find
    from wherestood.daybook.main_scan import main_scan
    from wherestood.daybook.opened_scan import opened_scan
    from wherestood.daybook.tables import Fix
    from wherestood.daybook.tables import Plate as PlateRow

    if Path(fix).suffix == ".json" or Path(fix).exists():
        return {}, None
    with open_daybook(daybook) as book, book.reading() as session:
        row = find(session, Fix, fix)
        plate = session.get(PlateRow, row.plate_id) if row.plate_id else None
        if plate is None:
            return {"fix": row.key}, None
        scan = main_scan(session, plate)
        called = {"plate": plate.key, "title": plate.title or "", "fix": row.key}
        try:
            return called, opened_scan(book.folder, plate, scan) if scan else None
        except PlateError as error:
            warn(f"Note: the scan of the plate cannot be opened. {error}")
            return called, None


def fitting_scan(scan: Plate | None, mapping: Mapping) -> Plate | None:
    """Return a scan if it is as large as the one that the answer was found on."""
    if scan is None or (scan.width_px, scan.height_px) == mapping.scan_px:
        return scan
    warn("Note: the plate's scan is of another size than its answer: no picture.")
    return None
