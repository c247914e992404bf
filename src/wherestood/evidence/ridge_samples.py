"""Reduce a traced ridge line to the samples that are scored."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.samples import LEAST_FILLED
from wherestood.plate.skyline import Skyline

__all__ = ["STRIPS", "RidgeSamples", "sample_ridge"]

#: Strips across the plate that ridge lines are averaged over.
STRIPS = 30
#: A line over fewer strips than this tells nothing: something will always match it.
FEWEST_STRIPS = 4


@dataclass(frozen=True)
class RidgeSamples:
    """Hold a ridge line as scored, for one hand of the plate.

    Attributes
    ----------
    table : (n, 6) float64 array
        X, Y and standard error over the scan's diagonal, Y up, the second and third
        order warp at X, and the slope dY/dX.
    trust : float
        Probability that it is a ridge at all.
    """

    table: NDArray[np.float64]
    trust: float

    def mirrored(self) -> RidgeSamples:
        """Return the samples of the plate seen from behind."""
        table = self.table[::-1].copy()
        table[:, (0, 4, 5)] *= -1.0
        return RidgeSamples(table, self.trust)


def sample_ridge(line: Skyline, trust: float) -> RidgeSamples | None:
    """Average a ridge line over equal strips of the plate.

    Parameters
    ----------
    line : Skyline
        As traced, on the upright positive; gaps are bridged.
    trust : float
        Probability that it is a ridge at all, between 0 and 1.

    Returns
    -------
    RidgeSamples or None
        None if the line is too short to tell anything.
    """
    width, height = line.width_px, line.height_px
    diagonal = math.hypot(width, height)
    strip_px = width / STRIPS
    first, last = math.floor(line.x_px[0] / strip_px), int(line.x_px[-1] / strip_px)
    rows = []
    for index in range(first, min(last, STRIPS - 1) + 1):
        left = max(index * strip_px, line.x_px[0])
        right = min((index + 1) * strip_px, line.x_px[-1])
        if right - left < LEAST_FILLED * strip_px:
            continue
        # A line drawn by hand has few points: it runs straight between them.
        x = np.linspace(left, right, 9)
        y = np.interp(x, line.x_px, line.y_px)
        slope = float(np.polyfit(x - x.mean(), y, 1)[0])
        sd = float(np.interp(x.mean(), line.x_px, line.sd_px))
        rows.append((x.mean(), y.mean(), sd * math.hypot(1.0, slope), slope))
    if len(rows) < FEWEST_STRIPS:
        return None
    x, y, sd, slope = np.array(rows).T
    x_over = (x - width / 2.0) / diagonal
    across = x_over / (width / diagonal / 2.0)
    return RidgeSamples(
        np.column_stack(
            (
                x_over,
                (height / 2.0 - y) / diagonal,
                sd / diagonal,
                1.5 * across**2 - 0.5,
                2.5 * across**3 - 1.5 * across,
                -slope,
            )
        ),
        trust,
    )
