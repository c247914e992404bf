"""Carry a traced line from one scan of a plate to another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wherestood.plate.copies.layout import Laid
from wherestood.plate.skyline import Skyline

__all__ = ["carried_line"]


def carried_line(
    laid: Laid, line: Skyline, width_px: int, height_px: int
) -> Skyline | None:
    """Return a line as it lies on the scan that another is laid over.

    Parameters
    ----------
    laid : Laid
        The way from the line's scan.
    line : Skyline
        A skyline or a ridge line.
    width_px, height_px : int
        Size of the scan it is carried to [px].

    Returns
    -------
    Skyline or None
        With its vertical error there. What lies outside that scan, and what comes to
        stand over what is before it, is left out; None where next to nothing is left.
    """
    points = np.column_stack((line.x_px, line.y_px))
    own = np.zeros((len(points), 2, 2))
    own[:, 1, 1] = line.sd_px**2
    carried, covariance = laid.carry(points, own)
    piece = np.concatenate(([0], np.cumsum(line.break_after[:-1])))
    if carried[0, 0] > carried[-1, 0]:  # a mirror image runs the other way
        carried, covariance, piece = carried[::-1], covariance[::-1], piece[::-1]
    x, y = carried.T
    inside = (x >= 0.0) & (x <= width_px) & (y >= 0.0) & (y <= height_px)
    highest = np.maximum.accumulate(np.where(inside, x, -np.inf))
    before = np.concatenate(([-np.inf], highest[:-1]))
    kept = np.flatnonzero(inside & (x > before))
    if kept.size < 2:
        return None
    x, y, covariance = x[kept], y[kept], covariance[kept]
    # Of the error of a point only what is across the line shows, at fixed x.
    slope = np.gradient(y, x)
    variance = (
        covariance[:, 1, 1]
        - 2.0 * slope * covariance[:, 0, 1]
        + slope**2 * covariance[:, 0, 0]
    )
    # Points that were left out between two make no gap, but a piece that ended does.
    broken = np.append(np.diff(piece[kept]) != 0, False)
    return replace(
        line,
        x_px=x,
        y_px=y,
        sd_px=np.sqrt(variance),
        width_px=width_px,
        height_px=height_px,
        break_after=broken,
    )
