"""Make ready the marks of a plate, and where stations would show their features."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.directions import mark_directions
from wherestood.evidence.items.on_plate import Mark
from wherestood.evidence.placed import Placement
from wherestood.evidence.shared_errors import (
    ERRORS,
    SharedErrors,
    errors_of,
    shared_errors,
)
from wherestood.evidence.stations import Stations

__all__ = ["NO_MARKS", "TARGET", "MarkTable", "mark_targets"]

Array = NDArray[np.float64]

#: Columns of a target: az, t, var az, covariance, var t; the change of az and t with
#: the station's east and north; the own part of the three variances; the change of t
#: with cover, with the lens's own error and with refraction; the change of az and t
#: with the feature's east and north, and of t with its height.
TARGET = 20
#: A mark this near the traced skyline lies on it [standard errors].
ON_LINE_SDS = 3.0
#: Where a height is not known, any that a plate may show will do [tangent]: were it
#: much more, most of the mark's density would lie off the plate, and any mark without
#: a height would pass for a blunder.
_ANY_TANGENT_SD = 0.3


@dataclass(frozen=True)
class MarkTable:
    """Hold the marks of one hand of a plate, as scored.

    Attributes
    ----------
    plate : (marks, 5) float64 array
        X, Y and standard error over the diagonal, Y up, and the second and third
        order warp at X.
    log_weight : (marks, candidates) float64 array
        Log of trust times the weight of each feature; -inf for none.
    log_blunder : (marks,) float64 array
        Log density of a blunder on the plate.
    elevated : (marks,) bool array
        Whether the height of each counts: not of one on the traced skyline, whose
        height on the plate the skyline has told already.
    where : (marks, candidates, 2) int64 array
    error_sd_m : (marks, candidates, 4) float64 array
        The errors that each candidate shares with others, as `errors_of`.
    marks : tuple of Mark
    placement : Placement or None
        Where their features are.
    """

    plate: Array
    log_weight: Array
    log_blunder: Array
    elevated: NDArray[np.bool_]
    where: NDArray[np.int64]
    error_sd_m: Array
    marks: tuple[Mark, ...] = ()
    placement: Placement | None = None

    @classmethod
    def of(
        cls,
        marks: tuple[Mark, ...],
        placement: Placement,
        width_px: float,
        height_px: float,
        shared: SharedErrors | None = None,
        skyline: Array | None = None,
    ) -> MarkTable:
        """Make ready the marks that are tied to a feature.

        Parameters
        ----------
        shared : SharedErrors, optional
            The errors of all that is on the plate; of the marks alone without it.
        skyline : (samples, 5) float64 array, optional
            The traced skyline as scored.
        """
        diagonal = math.hypot(width_px, height_px)
        tied = tuple(mark for mark in marks if mark.identities)
        x = np.array([mark.x_px - width_px / 2.0 for mark in tied]) / diagonal
        y = np.array([height_px / 2.0 - mark.y_px for mark in tied]) / diagonal
        sd = np.array([mark.sd_px for mark in tied]) / diagonal
        across = x / (width_px / diagonal / 2.0)
        warp = (1.5 * across**2 - 0.5, 2.5 * across**3 - 1.5 * across)
        each = [placement.candidates(mark.id, mark.at) for mark in tied]
        common = shared or shared_errors(each, placement)
        weight = np.zeros((len(tied), max((one.count for one in each), default=0)))
        where = np.full((*weight.shape, 2), -1, dtype=np.int64)
        error_sd_m = np.zeros((*weight.shape, ERRORS))
        for row, points in enumerate(each):
            weight[row, : points.count] = points.weight
            where[row, : points.count], error_sd_m[row, : points.count] = errors_of(
                points, placement, common, top=tied[row].at == "top"
            )
        trust = np.array([min(mark.credence, 1.0 - 1e-9) for mark in tied])
        ground = np.array([mark.at == "ground" for mark in tied], dtype=bool)
        with np.errstate(divide="ignore"):
            log_weight = np.log(weight) + np.log(trust)[:, None]
        area = width_px * height_px / diagonal**2
        return cls(
            np.column_stack((x, y, sd, *warp)),
            log_weight,
            np.log1p(-trust) - math.log(area),
            ~(ground & _on_skyline(x, y, sd, skyline)),
            where,
            error_sd_m,
            tied,
            placement,
        )

    def mirrored(self) -> MarkTable:
        """Return the marks of the plate seen from behind."""
        plate = self.plate.copy()
        plate[:, (0, 4)] *= -1.0
        return replace(self, plate=plate)

    def without(self, ids: Collection[str]) -> MarkTable:
        """Return it less some marks."""
        kept = [row for row, mark in enumerate(self.marks) if mark.id not in ids]
        # No wider than the mark of most features that is left: so are its targets.
        most = 1
        if self.placement is not None:
            left = (self.marks[row] for row in kept)
            each = (self.placement.candidates(mark.id, mark.at) for mark in left)
            most = max((points.count for points in each), default=1)
        return replace(
            self,
            plate=self.plate[kept],
            log_weight=self.log_weight[kept][:, :most],
            log_blunder=self.log_blunder[kept],
            elevated=self.elevated[kept],
            where=self.where[kept][:, :most],
            error_sd_m=self.error_sd_m[kept][:, :most],
            marks=tuple(self.marks[row] for row in kept),
        )

    def doubled(self) -> MarkTable:
        """Return the marks and their features twice as doubtful."""
        return replace(
            self,
            plate=self.plate * np.array((1.0, 1.0, 2.0, 1.0, 1.0)),
            error_sd_m=2.0 * self.error_sd_m,
            placement=self.placement and self.placement.doubled(),
        )

    def without_skyline(self) -> MarkTable:
        """Return it where no skyline has told the height of any."""
        return replace(self, elevated=np.ones_like(self.elevated))

    def anywhere(self) -> MarkTable:
        """Return the same marks tied to nothing: anywhere on the plate, for sure."""
        with np.errstate(divide="ignore", over="ignore"):
            trust = np.exp(np.logaddexp.reduce(self.log_weight, axis=1))
        return replace(
            self,
            log_weight=np.full_like(self.log_weight, -np.inf),
            log_blunder=self.log_blunder - np.log1p(-trust),
        )


NO_MARKS = MarkTable(
    np.zeros((0, 5)),
    np.zeros((0, 1)),
    np.zeros(0),
    np.zeros(0, dtype=bool),
    np.zeros((0, 1, 2), dtype=np.int64),
    np.zeros((0, 1, ERRORS)),
)


def _on_skyline(
    x: Array, y: Array, sd: Array, skyline: Array | None
) -> NDArray[np.bool_]:
    """Say which marks lie on the skyline, as near as both were read."""
    if skyline is None or len(skyline) < 2:
        return np.zeros(len(x), dtype=bool)
    step = float(np.median(np.diff(skyline[:, 0])))
    near = np.argmin(np.abs(x[:, None] - skyline[:, 0]), axis=1)
    after = np.clip(near + 1, 0, len(skyline) - 1)
    before = np.clip(near - 1, 0, len(skyline) - 1)
    # A strip is an average over its width: a summit stands above it.
    rise = np.abs(skyline[after, 1] - skyline[near, 1])
    fall = np.abs(skyline[before, 1] - skyline[near, 1])
    reach = ON_LINE_SDS * np.hypot(sd, skyline[near, 2]) + np.maximum(rise, fall)
    beside = np.abs(x - skyline[near, 0]) <= step
    return np.asarray(beside & (np.abs(y - skyline[near, 1]) <= reach))


def mark_targets(table: MarkTable, stations: Stations) -> Array:
    """Return where each mark's features lie from stations.

    Returns
    -------
    (stations, marks, candidates, 20) float64 array
        As `TARGET`.
    """
    if table.placement is None or not table.marks:
        return np.zeros((stations.count, 0, 1, TARGET))
    seen = mark_directions(stations, table.marks, table.placement).directions
    error = stations.height_error
    by_lens = seen.tangent_by_lens
    known = np.isfinite(seen.tangent) & table.elevated[:, None]
    cover = error.by_cover[:, None, None]
    rest = by_lens * error.rest_sd_m[:, None, None]
    tangent = seen.tangent + by_lens * cover * error.cover_mean_m
    targets = np.zeros((*known.shape, TARGET))
    targets[..., 0] = seen.azimuth_rad
    targets[..., 1] = tangent
    targets[..., 2] = seen.sd_azimuth_rad**2
    targets[..., 3] = seen.covariance
    targets[..., 4] = seen.sd_tangent**2 + rest**2
    targets[..., 5] = seen.azimuth_by_east
    targets[..., 6] = seen.azimuth_by_north
    # The lens goes up with the ground.
    targets[..., 7] = seen.tangent_by_east + by_lens * error.slope_east[:, None, None]
    targets[..., 8] = seen.tangent_by_north + by_lens * error.slope_north[:, None, None]
    targets[..., 12] = -by_lens * cover
    targets[..., 13] = rest
    targets[..., 14] = seen.distance_m * stations.curvature_per_m
    targets[..., 15:20] = seen.by_feature
    targets[..., 9:12] = _own(targets, table.error_sd_m)
    # A height that is not known tells nothing and shares nothing.
    targets[..., 1][~known] = 0.0
    targets[..., 4][~known] = _ANY_TANGENT_SD**2
    for column in (3, 7, 8, 10, 12, 13, 14, 17, 18, 19):
        targets[..., column][~known] = 0.0
    targets[..., 11][~known] = _ANY_TANGENT_SD**2
    return targets


def _own(targets: Array, sd_m: Array) -> Array:
    """Return the variances less what is shared: var az, covariance and var t."""
    place = sd_m[..., 0] ** 2 + sd_m[..., 1] ** 2
    height = sd_m[..., 2] ** 2 + sd_m[..., 3] ** 2
    az_east, az_north, t_east, t_north, t_up = np.moveaxis(targets[..., 15:20], -1, 0)
    azimuth = targets[..., 2] - place * (az_east**2 + az_north**2)
    covariance = targets[..., 3] - place * (az_east * t_east + az_north * t_north)
    shared = place * (t_east**2 + t_north**2) + height * t_up**2
    tangent = targets[..., 4] - targets[..., 13] ** 2 - shared
    # Differences of equals leave rounding, which no variance may be less than.
    return np.stack(
        (np.maximum(azimuth, 0.0), covariance, np.maximum(tangent, 0.0)), axis=-1
    )
