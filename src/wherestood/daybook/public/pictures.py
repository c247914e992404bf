"""Write pictures for the public: as a person sees them, and nothing else inside."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import func, or_, select

from wherestood.daybook.asked import whole_path
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.main_scan import main_scan_of
from wherestood.daybook.precision import FREE, restricted_plates
from wherestood.daybook.public.rows import LeftOut
from wherestood.daybook.tables import Plate, Right, Scan
from wherestood.record.export.picture_files import write_picture_file

__all__ = ["forbidden_pictures", "pictures_shown", "write_picture"]

_ABOUT_PICTURES = ("image", "scan")


def forbidden_pictures(session: DaybookSession) -> list[LeftOut]:
    """Return the plates whose pictures a recorded right does not let out."""
    wanted = (
        select(Plate.key, Right)
        .join(Plate, Plate.id == Right.plate_id)
        .where(
            Right.removed.is_(False),
            Right.withdrawn.is_(None),
            Right.may_be_published.is_(False),
            # A right that does not say what it is in covers all of its item.
            or_(
                Right.what.in_(_ABOUT_PICTURES),
                Right.what.is_(None) & Right.about_table.in_(("plates", "scans")),
            ),
            Plate.removed.is_(False),
            Plate.withdrawn.is_(None),
        )
        .order_by(Plate.key)
    )
    return [
        LeftOut(key, "picture", f"{right.what or 'the plate'} may not be published")
        for key, right in session.execute(wanted)
    ]


def pictures_shown(session: DaybookSession) -> Iterator[tuple[Plate, Scan | LeftOut]]:
    """Give each plate that has a scan, with its main one, or why it stays out."""
    covered = restricted_plates(session)
    forbidden = {one.plate: one for one in forbidden_pictures(session)}
    scans: dict[str, list[Scan]] = {}
    wanted = select(Scan).where(Scan.removed.is_(False), Scan.withdrawn.is_(None))
    for scan in session.scalars(wanted.order_by(func.length(Scan.key), Scan.key)):
        scans.setdefault(scan.plate_id, []).append(scan)
    plates = select(Plate).where(Plate.removed.is_(False), Plate.withdrawn.is_(None))
    for plate in session.scalars(plates.order_by(Plate.key)):
        main = main_scan_of(scans.get(plate.id, []))
        if main is None:
            continue
        if plate.key in forbidden:
            yield plate, forbidden[plate.key]
        elif covered.get(plate.id, FREE).covered:
            yield plate, LeftOut(plate.key, "picture", "it is covered")
        else:
            yield plate, main


def write_picture(folder: Path, scan: Scan, path: Path) -> None:
    """Write a scan as a positive JPEG of moderate size, with nothing inside but it.

    Parameters
    ----------
    folder : Path
        The daybook's.
    scan : Scan
        The scan.
    path : Path
        The new file.

    Raises
    ------
    PlateError
        If the scan cannot be read whole.
    """
    write_picture_file(
        whole_path(folder, scan.file),
        path,
        page=scan.page or 0,
        negative=scan.negative,
        reversed=bool(scan.reversed),
    )
