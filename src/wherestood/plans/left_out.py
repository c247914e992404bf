"""Try a pinning on its own pins: leave each out, and foretell it by the others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import PlanError
from wherestood.plans.pinned import FitKind
from wherestood.plans.pinning import pin_sheet
from wherestood.plans.pins import Pins

__all__ = ["LeftOut", "foretell_each"]

Floats = NDArray[np.float64]

#: More pins than this are a sample: each is a pinning of its own, and takes a while.
MOST = 40


@dataclass(frozen=True)
class LeftOut:
    """Hold how well each pin is foretold by all the others.

    Attributes
    ----------
    miss_m : (pins, 2) float64 array
        Where the pin is less where the others put it; NaN where without it the others
        do not hold the sheet [m].
    radius90_m : (pins,) float64 array
        Within how far the others say that it is, 9 times in 10, its own error
        included; NaN as above [m].
    inside : (pins,) bool array
        Whether it is within the ellipse of that radius.
    """

    miss_m: Floats
    radius90_m: Floats
    inside: NDArray[np.bool_]

    @property
    def tried(self) -> int:
        """Return how many pins could be left out."""
        return int(np.isfinite(self.radius90_m).sum())


def foretell_each(
    pins: Pins,
    kind: FitKind | None = None,
    *,
    mirrored: bool = False,
    most: int = MOST,
) -> LeftOut:
    """Leave each pin out in turn, pin the sheet by the others, and compare.

    Parameters
    ----------
    pins, kind, mirrored
        As of `wherestood.plans.pinning.pin_sheet`. Nothing that is stated about a pin
        has seen it: neither map nor warp nor which pins are wrong.
    most : int
        How many are left out at most, evenly chosen; the others read NaN.
    """
    count = pins.count
    miss, radius = np.full((count, 2), np.nan), np.full(count, np.nan)
    inside = np.zeros(count, dtype=bool)
    for one in np.unique(np.linspace(0, count - 1, min(count, most)).round()).astype(
        int
    ):
        others = np.arange(count) != one
        try:
            pinning = pin_sheet(pins.some(others), kind, mirrored=mirrored)
        except PlanError:
            continue
        at = pins.sheet_px[one : one + 1]
        miss[one] = pins.ground_m[one] - pinning.to_ground(at)[0]
        own = np.hypot(
            pins.ground_sd_m[one], pinning.metres_per_px * pins.sheet_sd_px[one]
        )
        # Two normal scatters add; 4.605 is the 90% point of a plane's.
        ellipse = pinning.within_m2(at)[0] + -2.0 * np.log(0.1) * own**2 * np.eye(2)
        radius[one] = np.sqrt(np.trace(ellipse) / 2.0)
        inside[one] = miss[one] @ np.linalg.solve(ellipse, miss[one]) <= 1.0
    return LeftOut(miss, radius, inside)
