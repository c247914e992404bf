"""Lay what was read on a scan onto its straightened plate, and a fix back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import SkylineError
from wherestood.evidence.items import Evidence, Mark
from wherestood.evidence.items.item import Item
from wherestood.fix.result import Alternative, Fix
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline
from wherestood.plate.straight import StraightPlate

__all__ = ["fix_on_scan", "laid_evidence", "laid_plate", "laid_skyline"]

Array = NDArray[np.float64]

_POINTED = ("plumb_edges", "water_levels", "sea_horizons", "known_sizes")


def laid_plate(straight: StraightPlate, plate: Plate) -> Plate:
    """Return a plate of the straightened size, for a search that reads no pixels."""
    return replace(
        plate,
        width_px=straight.width_px,
        height_px=straight.height_px,
        corners_px=None,
    )


def laid_skyline(straight: StraightPlate, skyline: Skyline) -> Skyline:
    """Return a traced line on the straightened plate.

    What lies outside the plate, and what comes to stand over what is before it, is
    left out.

    Raises
    ------
    SkylineError
        If next to nothing of it lies on the plate.
    """
    at_px = np.column_stack((skyline.x_px, skyline.y_px))
    x, y = straight.to_plate(at_px).T
    on = straight.holds(at_px)
    highest = np.maximum.accumulate(np.where(on, x, -np.inf))
    before = np.concatenate(([-np.inf], highest[:-1]))
    kept = np.flatnonzero(on & (x > before))
    if kept.size < 2:
        raise SkylineError(
            "The traced line lies outside the plate's corners.",
            "Mark the corners of the plate that the line was traced on.",
        )
    # A gap is one still where the sample before it is gone.
    piece = np.concatenate(([0], np.cumsum(skyline.break_after[:-1])))
    broken = np.append(np.diff(piece[kept]) > 0, False)
    return replace(
        skyline,
        x_px=x[kept],
        y_px=y[kept],
        sd_px=skyline.sd_px[kept] * straight.scale_at(at_px[kept]),
        width_px=straight.width_px,
        height_px=straight.height_px,
        break_after=broken,
    )


def laid_evidence(straight: StraightPlate, evidence: Evidence) -> Evidence:
    """Return evidence whose points are those of the straightened plate."""
    changed: dict[str, Any] = {
        name: tuple(_laid_points(straight, item) for item in getattr(evidence, name))
        for name in _POINTED
    }
    changed["marks"] = tuple(_laid_mark(straight, mark) for mark in evidence.marks)
    ridges = []
    for ridge in evidence.ridge_lines:
        try:
            ridges.append(replace(ridge, line=laid_skyline(straight, ridge.line)))
        except SkylineError:  # a line in the margin is no ridge
            continue
    changed["ridge_lines"] = tuple(ridges)
    return replace(evidence, **changed)


def _laid_mark(straight: StraightPlate, mark: Mark) -> Mark:
    at = (mark.x_px, mark.y_px)
    x, y = straight.to_plate(at)
    scale = float(straight.scale_at(at))
    return replace(mark, x_px=float(x), y_px=float(y), sd_px=mark.sd_px * scale)


def _laid_points(straight: StraightPlate, item: Item) -> Item:
    given: Any = item
    points = np.asarray(given.points_px)
    scale = float(np.mean(straight.scale_at(points)))
    laid: Item = replace(
        given,
        points_px=tuple(map(tuple, straight.to_plate(points).tolist())),
        sd_px=given.sd_px * scale,
    )
    return laid


def fix_on_scan(straight: StraightPlate, fix: Fix, evidence: Evidence) -> Fix:
    """Return a fix whose lines and marks lie on the scan again.

    Parameters
    ----------
    evidence : Evidence
        As it was marked on the scan.

    Notes
    -----
    Lengths in pixels (lens to plate, rise, cross, the skyline's misfit) stay those of
    the straightened plate, whose pixels are as large as the scan's.
    """
    rows = _rows_on_scan(straight, fix.evidence, evidence)
    held = tuple(
        replace(one, x_px=float(x), y_px=float(y))
        for one in fix.checks.held_back
        for x, y in (straight.to_scan((one.x_px, one.y_px)),)
    )
    return replace(
        fix,
        evidence=rows,
        computed_skyline_px=straight.to_scan(fix.computed_skyline_px),
        computed_ridges_px=straight.to_scan(fix.computed_ridges_px),
        alternatives=tuple(
            _alternative_on_scan(straight, one, evidence) for one in fix.alternatives
        ),
        proposed=tuple(
            replace(one, answer=_alternative_on_scan(straight, one.answer, evidence))
            if one.answer is not None
            else one
            for one in fix.proposed
        ),
        checks=replace(fix.checks, held_back=held),
    )


def _alternative_on_scan(
    straight: StraightPlate, one: Alternative, evidence: Evidence
) -> Alternative:
    if one.computed_skyline_px is None:
        return one
    return replace(
        one,
        evidence=_rows_on_scan(straight, one.evidence, evidence),
        computed_skyline_px=straight.to_scan(one.computed_skyline_px),
        computed_ridges_px=straight.to_scan(one.computed_ridges_px),
    )


def _rows_on_scan(
    straight: StraightPlate, rows: Sequence[dict[str, Any]], evidence: Evidence
) -> tuple[dict[str, Any], ...]:
    """Return what is told of items, what is off in pixels as it is on the scan."""
    places: dict[str, Array] = {
        mark.id: np.array([[mark.x_px, mark.y_px]]) for mark in evidence.marks
    }
    for name in _POINTED:
        for item in getattr(evidence, name):
            places[item.id] = np.asarray(item.points_px, dtype=np.float64)
    found = []
    for row in rows:
        if row.get("residual_px") and row["id"] in places:
            at_px = places[row["id"]]
            there = straight.to_scan(straight.to_plate(at_px) - row["residual_px"])
            off = np.mean(at_px - there, axis=0)
            row = {
                **row,
                "residual": float(np.hypot(*off)),
                "residual_px": [float(value) for value in off],
            }
        found.append(row)
    return tuple(found)
