"""Turn two readers' tracings of one skyline into one, with the doubt they measure.

Symbols: d difference of the two at a column [px]; r its typical size near by.

Two readers who err alike and apart differ by ``sqrt(2)`` times the error of one, so
that ``r / sqrt(2)`` is what either errs by. It is added to the standard errors given
there, and the line goes half way between the two; what both did alike stays unknown.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from wherestood.errors import SkylineError
from wherestood.plate.skyline import Skyline

__all__ = ["TwoTracings", "compare_tracings"]

Array = NDArray[np.float64]

#: Differences are taken together over this share of the width: where two lines cross
#: neither is perfect.
TOGETHER = 0.02
#: Two lines this many standard errors apart are worth another look.
APART_SDS = 3.0
#: Samples across the scan of the joined line.
SAMPLES_ACROSS = 2000
#: Two tracings that share less of the width than this say nothing of their doubt.
LEAST_SHARED = 0.05


@dataclass(frozen=True)
class TwoTracings:
    """Hold how two readers' tracings differ.

    Attributes
    ----------
    skyline : Skyline
        The two as one, its standard errors grown by what they differ.
    typical_px : float
        Typical difference where both have a line [px].
    greatest_px, greatest_at_px : float
        Greatest difference, and at which column [px].
    shared : float
        Share of the width where both have a line.
    only_one : float
        Share of the width where one alone has.
    apart : tuple of (float, float)
        Columns from and to over which they are farther apart than their errors
        allow: worth another look [px].
    """

    skyline: Skyline
    typical_px: float
    greatest_px: float
    greatest_at_px: float
    shared: float
    only_one: float
    apart: tuple[tuple[float, float], ...]

    def words(self) -> str:
        """Say in one sentence how the two differ."""
        told = (
            f"Two tracings were compared: over the {self.shared:.0%} of the width "
            f"where both have a line they are typically {self.typical_px:.2g} px "
            f"apart, at most {self.greatest_px:.2g} px (at column "
            f"{self.greatest_at_px:.0f}); that difference was added to the doubt "
            "of the line."
        )
        if self.apart:
            where = ", ".join(f"{a:.0f} to {b:.0f}" for a, b in self.apart)
            told += f" Look again at columns {where}."
        return told


def compare_tracings(first: Skyline, second: Skyline) -> TwoTracings:
    """Compare two tracings of one plate and make one line of them.

    Parameters
    ----------
    first, second : Skyline
        Of the same scan. Where only one has a line it is kept, and doubted by what
        the two typically differ elsewhere.

    Raises
    ------
    SkylineError
        If they are of scans of different sizes, or hardly share a column.
    """
    if (first.width_px, first.height_px) != (second.width_px, second.height_px):
        raise SkylineError(
            f"The two tracings are of scans of different sizes: {first.width_px} x "
            f"{first.height_px} and {second.width_px} x {second.height_px} px.",
            "Trace the same scan twice.",
        )
    width = float(first.width_px)
    step_px = max(1.0, width / SAMPLES_ACROSS)
    x = np.arange(0.5, width, step_px)
    one_y, one_sd = _at(first, x)
    two_y, two_sd = _at(second, x)
    both = np.isfinite(one_y) & np.isfinite(two_y)
    if both.mean() < LEAST_SHARED:
        raise SkylineError(
            f"The two tracings share {both.mean():.0%} of the width; at least "
            f"{LEAST_SHARED:.0%} is needed to tell how they differ.",
            "Trace the same stretch of skyline twice, or join the two as pieces.",
        )
    apart = one_y - two_y
    typical = float(np.sqrt(np.mean(apart[both] ** 2)))
    near = _typical_near(apart, both, TOGETHER * width / step_px)
    differ = np.where(both, near, typical) / math.sqrt(2.0)
    own = np.where(both, np.hypot(one_sd, two_sd) / math.sqrt(2.0), 0.0)
    own = np.where(both, own, np.where(np.isfinite(one_y), one_sd, two_sd))
    y = np.where(
        both, 0.5 * (one_y + two_y), np.where(np.isfinite(one_y), one_y, two_y)
    )
    known = np.isfinite(y)
    column = np.flatnonzero(known)
    greatest = int(np.nanargmax(np.where(both, np.abs(apart), np.nan)))
    errors = np.hypot(one_sd, two_sd)
    far = both & (np.abs(apart) > APART_SDS * errors)
    tracings = TwoTracings(
        replace(
            first,
            x_px=x[known],
            y_px=y[known],
            sd_px=np.hypot(own, differ)[known],
            break_after=np.append(np.diff(column) > 1, False),
            blind=first.blind and second.blind,
            notes=first.notes,
        ),
        typical,
        float(abs(apart[greatest])),
        float(x[greatest]),
        float(both.mean()),
        float((known & ~both).mean()),
        _runs(x, far, TOGETHER * width),
    )
    said = (*first.notes, tracings.words())
    return replace(tracings, skyline=replace(tracings.skyline, notes=said))


def _at(line: Skyline, x: Array) -> tuple[Array, Array]:
    """Return a line and its error at columns, NaN in its gaps."""
    y = np.interp(x, line.x_px, line.y_px, left=np.nan, right=np.nan)
    sd = np.interp(x, line.x_px, line.sd_px)
    before = np.searchsorted(line.x_px, x, side="right") - 1
    last = np.clip(before, 0, len(line.x_px) - 1)
    # A column at a sample itself is no gap, even where the line breaks after it.
    inside = line.break_after[last] & (x > line.x_px[last])
    return np.where(inside, np.nan, y), sd


def _typical_near(apart: Array, both: NDArray[np.bool_], reach: float) -> Array:
    """Return the typical difference near each column, of those that have one."""
    square = np.where(both, apart, 0.0) ** 2
    held = gaussian_filter1d(square, reach, mode="constant")
    share = gaussian_filter1d(both.astype(np.float64), reach, mode="constant")
    return np.asarray(np.sqrt(held / np.maximum(share, 1e-12)))


def _runs(
    x: Array, far: NDArray[np.bool_], joined_px: float
) -> tuple[tuple[float, float], ...]:
    """Return from where to where columns are marked; near runs are one."""
    runs: list[tuple[float, float]] = []
    for at in x[far]:
        if runs and at - runs[-1][1] <= joined_px:
            runs[-1] = (runs[-1][0], float(at))
        else:
            runs.append((float(at), float(at)))
    return tuple(runs)
