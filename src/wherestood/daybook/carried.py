"""Carry what was marked on one scan of a plate to another, with its error."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.main_scan import main_scan_of, scans_of
from wherestood.daybook.tables import Mark, Plate, Scan
from wherestood.errors import PlateError, SkylineError
from wherestood.evidence.items.on_plate import MARK_SD_PX
from wherestood.plate.skyline import read_traced_lines, write_skyline_csv

if TYPE_CHECKING:
    from wherestood.plate.copies import Laid

__all__ = [
    "CarriedMark",
    "Carrying",
    "carried_content",
    "carried_marks",
    "carried_points",
]

Points = list[list[float]]


@dataclass(frozen=True)
class CarriedMark:
    """Hold a mark as it lies on the reference.

    Attributes
    ----------
    key, scan : str
        The mark, and the scan it was made on.
    points_px : list of (x, y)
        On the reference [px].
    sd_px : list of float
        Standard error of each point, one axis [px].
    """

    key: str
    scan: str
    points_px: list[tuple[float, float]]
    sd_px: list[float]


class Carrying:
    """Know the way from every registered scan of a plate to one of them.

    Parameters
    ----------
    session : Session
        Of the daybook.
    plate : Plate
        The plate.
    onto_id : str, optional
        The scan that all is carried to; the main one unless told.
    """

    def __init__(
        self, session: Session, plate: Plate, onto_id: str | None = None
    ) -> None:
        scans = scans_of(session, plate)
        self.scans = {scan.id: scan for scan in scans}
        main = main_scan_of(scans)
        self.onto = self.scans.get(onto_id or "", main)
        #: Scan that evidence was made on which names none.
        self.unnamed = main
        self._ways = self._laid() if len(scans) > 1 else {}

    def _laid(self) -> dict[str, Laid]:
        from wherestood.plate.copies import lay_copies
        from wherestood.plate.copies.record import registration_of

        assert self.onto is not None
        pairs = {}
        for scan in self.scans.values():
            if scan.registration is None or scan.registered_to_id not in self.scans:
                continue
            try:
                read = registration_of(scan.registration)
            except PlateError:  # as if it had never been registered
                continue
            pairs[scan.id, scan.registered_to_id] = read
        return lay_copies(self.onto.id, pairs)

    def scan(self, scan_id: str | None) -> Scan | None:
        """Return the scan something was made on; None where it is gone."""
        return self.unnamed if scan_id is None else self.scans.get(scan_id)

    def needed(self, scan_id: str | None) -> bool:
        """Say whether what was made on a scan must be carried to count."""
        scan = self.scan(scan_id)
        gone = scan_id is not None and scan is None
        return gone or (scan is not None and scan is not self.onto)

    def way(self, scan_id: str | None) -> Laid | None:
        """Return the way from a scan; None where there is none."""
        scan = self.scan(scan_id)
        return None if scan is None else self._ways.get(scan.id)


def carried_points(
    way: Laid, points_px: Sequence[Sequence[float]], sd_px: float | None
) -> tuple[Points, list[float]]:
    """Carry points, and return the standard error of each, one axis [px].

    What they share, the map's error, is in each of them: marks that were carried
    together are taken to be as doubtful as if each were so by itself.
    """
    points = np.array(points_px or [], dtype=np.float64).reshape(-1, 2)
    own = np.eye(2) * (sd_px if sd_px is not None else MARK_SD_PX) ** 2
    carried, covariance = way.carry(points, np.tile(own, (len(points), 1, 1)))
    spread = np.sqrt(covariance.trace(axis1=1, axis2=2) / 2.0)
    return carried.tolist(), spread.tolist()


def carried_content(
    way: Laid, content: dict[str, Any], source: Scan, target: Scan
) -> dict[str, Any] | None:
    """Carry the points and lines of an item of evidence; None where none are left.

    Parameters
    ----------
    way : Laid
        From its scan.
    content : dict
        As the evidence file has it, a line as the text of its file under ``csv``.
    source, target : Scan
        The two scans.
    """
    carried = dict(content)
    if points := content.get("points_px"):
        where, spread = carried_points(way, points, content.get("sd_px"))
        if not np.isfinite(where).all():
            return None
        carried["points_px"] = [[round(x, 3), round(y, 3)] for x, y in where]
        carried["sd_px"] = round(float(np.sqrt(np.mean(np.square(spread)))), 3)
    if "csv" in content:
        line = _carried_csv(way, content["csv"], source, target)
        if line is None:
            return None
        carried["csv"] = line
    return carried


def _carried_csv(way: Laid, text: str, source: Scan, target: Scan) -> str | None:
    from wherestood.plate.copies.carried_line import carried_line

    sizes = (source.width_px, source.height_px, target.width_px, target.height_px)
    if None in sizes:
        return None
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "line.csv"
        path.write_text(text, encoding="utf-8")
        try:
            line, _ = read_traced_lines(path, int(sizes[0] or 0), int(sizes[1] or 0))
        except SkylineError:
            return None
        laid = carried_line(way, line, int(sizes[2] or 0), int(sizes[3] or 0))
        if laid is None:
            return None
        write_skyline_csv(laid, path)
        return path.read_text("utf-8")


def carried_marks(
    session: Session, plate: Plate
) -> tuple[list[CarriedMark], list[str]]:
    """Carry the plate's marks to its main scan.

    Returns
    -------
    marks : list of CarriedMark
        Those on the main scan too, as they are.
    left : list of str
        Keys of marks on scans that are not registered.
    """
    carrying = Carrying(session, plate)
    marks: list[CarriedMark] = []
    left: list[str] = []
    wanted = select(Mark).where(
        Mark.plate_id == plate.id, Mark.removed.is_(False), Mark.withdrawn.is_(None)
    )
    for mark in session.scalars(wanted.order_by(Mark.key)):
        points, scan = mark.points_px or [], carrying.scan(mark.scan_id)
        spread = [mark.sd_px if mark.sd_px is not None else MARK_SD_PX] * len(points)
        if carrying.needed(mark.scan_id):
            way = carrying.way(mark.scan_id)
            if way is None:
                left.append(mark.key)
                continue
            points, spread = carried_points(way, points, mark.sd_px)
        name = scan.key if scan is not None else ""
        marks.append(CarriedMark(mark.key, name, [(x, y) for x, y in points], spread))
    return marks, left
