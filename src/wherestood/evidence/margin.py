"""Leave out what is marked on a scan's margin, outside the corners of the plate."""

from __future__ import annotations

import numpy as np

from wherestood.evidence.items.check import (
    Checked,
    Complaint,
    HasHeight,
    check_evidence,
)
from wherestood.evidence.items.evidence import Evidence
from wherestood.evidence.items.item import Item
from wherestood.evidence.items.on_plate import Mark
from wherestood.plate.scan import Plate
from wherestood.plate.straight import straight_plate

__all__ = ["checked_on"]


def checked_on(plate: Plate, evidence: Evidence, has_height: HasHeight) -> Checked:
    """Keep the evidence that can be used on a plate, and say what is wrong else.

    Parameters
    ----------
    plate : Plate
        With its size and, where they are marked, its corners.
    has_height : callable
        As of `check_evidence`.
    """
    checked = check_evidence(
        evidence,
        width_px=plate.width_px,
        height_px=plate.height_px,
        has_height=has_height,
    )
    inside = without_margin(checked.evidence, plate)
    return Checked(inside.evidence, (*checked.complaints, *inside.complaints))


def without_margin(evidence: Evidence, plate: Plate) -> Checked:
    """Return evidence less what lies outside the plate's corners, where marked.

    Returns
    -------
    Checked
        With a complaint for each item that is left out.
    """
    straight = straight_plate(plate)
    if straight is None:
        return Checked(evidence, ())
    complaints = []
    for item in evidence.items():
        points = _points_of(item)
        off = points[~straight.holds(points)]
        if len(off):
            x, y = off[0]
            complaints.append(
                Complaint.of(
                    item.refusal(
                        "points_px",
                        f"the point ({x:g}, {y:g}) lies outside the plate's corners",
                        "Mark what is on the plate, or mend plate_corners_px.",
                    )
                )
            )
    left = evidence.without(complaint.item for complaint in complaints)
    return Checked(left, tuple(complaints))


def _points_of(item: Item) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    points = list(getattr(item, "points_px", ()))
    if isinstance(item, Mark):
        points.append((item.x_px, item.y_px))
    return np.asarray(points, dtype=np.float64).reshape(-1, 2)
