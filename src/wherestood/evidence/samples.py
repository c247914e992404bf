"""Reduce a traced skyline to the samples that are scored."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import SkylineError
from wherestood.plate.skyline import Skyline

__all__ = [
    "BINS",
    "FEWEST_BESIDE_OTHERS",
    "FEWEST_BINS",
    "SkylineSamples",
    "sample_skyline",
]

#: Bins across the plate. Finer detail than this is crowns, crests and facets of
#: the elevation model, which no map foretells: counted, it only makes bold.
BINS = 60
#: A bin needs this share of its columns traced.
LEAST_FILLED = 0.5
#: Fewer bins than this cannot tell one hill from another.
FEWEST_BINS = 12
#: ... but beside other evidence a strip of sky says what it can.
FEWEST_BESIDE_OTHERS = 6
#: A trace is never better than this over a bin [px].
LEAST_SD_PX = 1.0


@dataclass(frozen=True)
class SkylineSamples:
    """Hold a skyline as scored, for one hand of the plate.

    Attributes
    ----------
    table : (n, 5) float64 array
        X, Y and standard error over the scan's diagonal, Y up, and the second
        and third order warp at X.
    diagonal_px : float
        Diagonal of the scan [px].
    width_px, height_px : int
        Size of the scan [px].
    """

    table: NDArray[np.float64]
    diagonal_px: float
    width_px: int
    height_px: int

    def mirrored(self) -> SkylineSamples:
        """Return the samples of the plate seen from behind."""
        table = self.table[::-1].copy()
        table[:, 0] *= -1.0
        table[:, 4] *= -1.0
        return SkylineSamples(table, self.diagonal_px, self.width_px, self.height_px)

    @property
    def bin_width(self) -> float:
        """Width of a bin over the diagonal."""
        return self.width_px / self.diagonal_px / BINS


def sample_skyline(skyline: Skyline, fewest_bins: int = FEWEST_BINS) -> SkylineSamples:
    """Average a skyline over equal bins across the plate.

    Parameters
    ----------
    skyline : Skyline
        As traced, on the upright positive.
    fewest_bins : int
        Bins that must be filled.

    Returns
    -------
    SkylineSamples

    Raises
    ------
    SkylineError
        If too little of the width is traced to compare with any hill.
    """
    width, height = skyline.width_px, skyline.height_px
    diagonal = math.hypot(width, height)
    edges = np.linspace(0.0, width, BINS + 1)
    place = np.clip(np.digitize(skyline.x_px, edges) - 1, 0, BINS - 1)
    rows = []
    for index in range(BINS):
        inside = place == index
        row = _one_bin(
            skyline.x_px[inside],
            skyline.y_px[inside],
            skyline.sd_px[inside],
            width / BINS,
        )
        if row is not None:
            rows.append(row)
    if len(rows) < fewest_bins:
        raise SkylineError(
            f"Only {len(rows)} of {BINS} strips of the plate have a skyline; "
            f"at least {fewest_bins} are needed.",
            "Trace more of it by hand and hand it over with --skyline.",
        )
    x, y, sd = np.array(rows).T
    x_over = (x - width / 2.0) / diagonal
    across = x_over / (width / diagonal / 2.0)
    table = np.column_stack(
        (
            x_over,
            (height / 2.0 - y) / diagonal,
            sd / diagonal,
            1.5 * across**2 - 0.5,
            2.5 * across**3 - 1.5 * across,
        )
    )
    return SkylineSamples(table, diagonal, width, height)


def _one_bin(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    sd: NDArray[np.float64],
    bin_px: float,
) -> tuple[float, float, float] | None:
    """Return mean place and standard error, or None where too little is traced."""
    if x.size < 2:
        return None
    spacing = float(np.median(np.diff(x)))
    if x.size * spacing < LEAST_FILLED * bin_px:
        return None
    slope = float(np.polyfit(x - x.mean(), y, 1)[0]) if np.ptp(x) > 0 else 0.0
    # An error across the line shows vertically the more, the steeper the line.
    error = max(float(np.mean(sd)), LEAST_SD_PX) * math.hypot(1.0, slope)
    return float(x.mean()), float(y.mean()), error
