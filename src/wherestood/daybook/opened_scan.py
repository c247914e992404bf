"""Open a scan as its plate and its own row say."""

from __future__ import annotations

from pathlib import Path
from typing import cast

from wherestood.daybook.asked import whole_path
from wherestood.daybook.tables import Plate, Scan
from wherestood.plate.frame import Corners
from wherestood.plate.scan import Plate as Scanned

__all__ = ["opened_scan"]


def opened_scan(folder: Path, plate: Plate, scan: Scan) -> Scanned:
    """Open a scan as a search does.

    Parameters
    ----------
    folder : Path
        The daybook's.
    plate, scan : Plate, Scan
        The rows: size and trim of the one; page, tone, resolution and corners of the
        other. That it is left for right is for the search to weigh, and turns no
        pixels round.

    Raises
    ------
    PlateError
        If it cannot be read.
    """
    corners = scan.corners_px
    return Scanned.open(
        whole_path(folder, scan.file),
        size=plate.size,
        scan_ppi=scan.scan_ppi,
        trimmed=bool(plate.trimmed),
        negative=scan.negative,
        page=scan.page or 0,
        corners=cast(Corners, tuple((x, y) for x, y in corners)) if corners else None,
    )
