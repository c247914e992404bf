"""Lay a plate's scans over one another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.daybook.book import Daybook
from wherestood.daybook.keys import find
from wherestood.daybook.main_scan import main_scan_of, scans_of
from wherestood.daybook.tables import Plate, Scan
from wherestood.errors import InputError
from wherestood.plate.copies import (
    Extent,
    HandPoints,
    Picture,
    Registration,
    lay_copies,
    register,
    widest_extent,
)
from wherestood.plate.copies.joined import joined_picture
from wherestood.plate.copies.record import registration_as_json
from wherestood.plate.scan import Plate as OpenedPlate
from wherestood.progress import SILENT, Progress

__all__ = ["Copies", "register_copies"]

_READ_PX = 2000


@dataclass(frozen=True)
class Copies:
    """Hold what came of registering a plate's scans.

    Attributes
    ----------
    reference : str
        Key of the scan that marks are made on.
    registered : dict of str to (str, Registration)
        By scan: the scan it was laid over, and how.
    alone : tuple of str
        Scans for which no map can be trusted; they need hand points.
    extent : Extent
        What all of them cover, in pixels of the reference.
    error_px : dict of str to float
        Median standard error of a mark carried to the reference, by scan [px].
    picture : (rows, columns) float32 array
        All scans laid over one another, the reference on top, for looking at.
    """

    reference: str
    registered: dict[str, tuple[str, Registration]]
    alone: tuple[str, ...]
    extent: Extent
    error_px: dict[str, float]
    picture: NDArray[np.float32]


def register_copies(
    daybook: Daybook,
    plate_key: str,
    person: str,
    *,
    why: str = "",
    hand: Mapping[tuple[str, str], HandPoints] | None = None,
    dry_run: bool = False,
    progress: Progress = SILENT,
) -> Copies:
    """Register every scan of a plate to its main one, over others if need be.

    Parameters
    ----------
    daybook : Daybook
        Where.
    plate_key : str
        The plate.
    person, why : str
        Who registers them, and why.
    hand : mapping of (scan, scan) to HandPoints, optional
        Points put on two scans by hand.
    dry_run : bool
        Whether to keep nothing of it.
    progress : Progress
        Told of each attempt.

    Raises
    ------
    InputError
        If there is no such plate, or it has fewer than two scans, or hand points
        are on a scan that it has not.
    """
    hand = dict(hand or {})
    with daybook.reading() as session:
        plate = find(session, Plate, plate_key)
        scans = scans_of(session, plate)
    names = [scan.key for scan in scans]
    for pair in hand:
        for name in pair:
            if name not in names:
                raise InputError(
                    f"The plate {plate_key!r} has no scan {name!r} for points by hand.",
                    f"It has: {', '.join(names)}.",
                )
    if len(scans) < 2:
        raise InputError(
            f"The plate {plate_key!r} has {len(scans)} scan(s); two are needed to lay "
            "one over the other.",
            "Take another in first.",
        )
    reference = main_scan_of(scans)
    assert reference is not None
    pictures = {scan.key: _picture(daybook, scan) for scan in scans}
    found = _joined(reference.key, pictures, hand, progress)
    laid = lay_copies(
        reference.key, {(name, onto): reg for name, (onto, reg) in found.items()}
    )
    sizes = {
        name: (picture.width_px, picture.height_px)
        for name, picture in pictures.items()
    }
    extent = widest_extent(sizes, laid)
    if not dry_run:
        _keep(daybook, scans, found, hand, person, why)
    return Copies(
        reference.key,
        found,
        tuple(name for name in names if name not in laid),
        extent,
        {name: way.error_px for name, way in laid.items() if name != reference.key},
        joined_picture(pictures, laid, extent, [reference.key, *names]),
    )


def _picture(daybook: Daybook, scan: Scan) -> Picture:
    opened = OpenedPlate.open(
        daybook.path(scan.file),
        negative=scan.negative,
        page=scan.page or 0,
    )
    grey, _ = opened.reduced(_READ_PX)
    return Picture(grey, opened.width_px, opened.height_px)


def _joined(
    reference: str,
    pictures: Mapping[str, Picture],
    hand: Mapping[tuple[str, str], HandPoints],
    progress: Progress,
) -> dict[str, tuple[str, Registration]]:
    """Register each scan to the reference, or to one that is registered already."""
    found: dict[str, tuple[str, Registration]] = {}
    reached = [reference]
    for onto in reached:  # grows while it is walked
        for name, picture in pictures.items():
            if name in reached:
                continue
            points = _points(hand, name, onto)
            registration = register(picture, pictures[onto], points, progress=progress)
            if registration is not None:
                found[name] = (onto, registration)
                reached.append(name)
    return found


def _points(
    hand: Mapping[tuple[str, str], HandPoints], source: str, target: str
) -> HandPoints | None:
    if (source, target) in hand:
        return hand[source, target]
    turned = hand.get((target, source))
    if turned is None:
        return None
    return HandPoints(turned.target_px, turned.source_px, turned.sd_px)


def _keep(
    daybook: Daybook,
    scans: list[Scan],
    found: Mapping[str, tuple[str, Registration]],
    hand: Mapping[tuple[str, str], HandPoints],
    person: str,
    why: str,
) -> None:
    ids = {scan.key: scan.id for scan in scans}
    with daybook.writing(person, why) as session:
        for name, (onto, registration) in found.items():
            scan = session.get_one(Scan, ids[name])
            record = registration_as_json(registration)
            points = _points(hand, name, onto)
            if points is not None:
                record["points_by_hand"] = [
                    [*source, *target]
                    for source, target in zip(
                        points.source_px.tolist(),
                        points.target_px.tolist(),
                        strict=True,
                    )
                ]
            scan.registered_to_id = ids[onto]
            scan.registration = record
