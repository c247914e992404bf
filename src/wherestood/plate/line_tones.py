"""Measure the tones just above and just below a traced line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["LineTones", "line_tones"]

Grey = NDArray[np.float32]
Line = NDArray[np.float64]

MAD_TO_SD = 1.4826


@dataclass(frozen=True)
class LineTones:
    """Hold the tones beside a line, per column.

    Attributes
    ----------
    above, below : (width,) float64 array
        Medians of the six rows just above and just below the line, 0 to 1.
    under : (width,) float64 array
        Median of the fifteen rows below it, 0 to 1.
    grain : float
        Standard deviation of one pixel's grain.
    """

    above: Line
    below: Line
    under: Line
    grain: float

    def turned(self) -> LineTones:
        """Return the same as seen in a mirror."""
        return LineTones(
            self.above[::-1], self.below[::-1], self.under[::-1], self.grain
        )


def line_tones(grey: Grey, line: Line) -> LineTones:
    """Measure the tones beside a line on a (height, width) image, 0 to 1."""
    row = np.rint(line).astype(int)
    column = np.arange(line.size)

    def median_of(first: int, last: int) -> Line:
        rows = np.clip(row[:, None] + np.arange(first, last), 0, grey.shape[0] - 1)
        tone: Line = np.median(grey[rows, column[:, None]], axis=1).astype(np.float64)
        return tone

    fine = grey[:, 1:] - grey[:, :-1]
    grain = MAD_TO_SD * float(np.median(np.abs(fine))) / np.sqrt(2.0)
    return LineTones(
        median_of(-9, -3), median_of(3, 9), median_of(3, 18), max(grain, 1e-4)
    )
