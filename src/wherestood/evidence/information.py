"""Tell how well in lines fix a station, and where they hardly do.

Symbols
-------
J : change of the computed differences of bearings with the station's east and north,
(items, 2) [rad/m]; C : covariance of their errors [rad2]

    information = J' C^-1 J

Its inverse is the covariance of the station, to the first order. On the circle through
three points the angles between them do not change along the circle: there, and where
all lines of sight meet in one bearing, the information is singular.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.in_lines_together import in_line_residuals
from wherestood.evidence.items.relations import InLine
from wherestood.evidence.lean import Lean
from wherestood.evidence.placed import Placement
from wherestood.evidence.stations import Stations

__all__ = ["PositionInformation", "position_information"]

Array = NDArray[np.float64]

#: An ellipse this many times as long as wide is hardly a position.
INDETERMINATE_RATIO = 20.0


@dataclass(frozen=True)
class PositionInformation:
    """Hold how well stations are fixed.

    Attributes
    ----------
    information : (stations, 2, 2) float64 array
        Of east and north [1/m2].
    longest_sd_m, shortest_sd_m : (stations,) float64 array
        Half axes of the error ellipse of one sd; infinite where nothing fixes the
        station that way [m].
    """

    information: Array
    longest_sd_m: Array
    shortest_sd_m: Array

    @property
    def nearly_indeterminate(self) -> NDArray[np.bool_]:
        """Say where the ellipse is over 20 times as long as wide."""
        with np.errstate(invalid="ignore"):
            ratio = self.longest_sd_m / self.shortest_sd_m
        return np.asarray(~(ratio <= INDETERMINATE_RATIO))


def position_information(
    items: Sequence[InLine], placement: Placement, stations: Stations, lean: Lean
) -> PositionInformation:
    """Return how well in lines between single points would fix stations.

    Parameters
    ----------
    items : sequence of InLine
        Each between two details that are one point each.
    placement, stations, lean
        As of `wherestood.evidence.in_line.weigh_in_line`.
    """
    residuals = in_line_residuals(items, placement, stations, lean)
    change = residuals.by_station
    information = change.swapaxes(1, 2) @ np.linalg.solve(residuals.covariance, change)
    values = np.linalg.eigvalsh(information)
    # What rounding leaves of nothing is nothing.
    least = np.finfo(np.float64).eps * values[:, 1:]
    with np.errstate(divide="ignore"):
        sd = 1.0 / np.sqrt(np.where(values > least, values, 0.0))
    return PositionInformation(information, sd[:, 0], sd[:, 1])
