"""Place features in the frame, as points that each may be what is seen.

A line or an area becomes a row of points, each with its share of the weight and with
the doubt of where between its neighbours the thing is.

Symbols: n points of one feature or mark; s standard error along each axis [m].
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.earth.frame import Frame
from wherestood.errors import EvidenceError
from wherestood.evidence.items.check import HasHeight
from wherestood.evidence.items.evidence import Evidence
from wherestood.evidence.items.feature import Feature
from wherestood.evidence.items.on_plate import Mark
from wherestood.evidence.items.reference import At
from wherestood.evidence.layout import geometry_in_frame, laid_out
from wherestood.terrain.ground import height_m
from wherestood.terrain.model import Terrain

__all__ = [
    "Candidates",
    "PlacedFeature",
    "Placement",
    "known_heights",
    "place_evidence",
    "place_feature",
]

Array = NDArray[np.float64]

#: Standard error of an elevation model's heights, where a foot stands on it [m].
TERRAIN_SD_M = 5.0
#: ... and of a height that somebody gives without a doubt [m].
GIVEN_HEIGHT_SD_M = 3.0
#: Height of an object of which nothing is known, and its sd [m]: a cottage to a
#: church tower. Common practice.
OBJECT_M, OBJECT_SD_M = 8.0, 6.0
#: Relative standard error of an object's height given without a doubt.
OBJECT_SHARE = 0.1


@dataclass(frozen=True)
class PlacedFeature:
    """Hold a feature in the frame.

    Attributes
    ----------
    id : str
        Its id.
    plan_id : str
        Its plan, empty without one.
    east_m, north_m : (n,) float64 array
        Where it may be [m].
    weight : (n,) float64 array
        Probability of each; they add up to 1.
    sd_m : float
        Standard error along each axis, the plan's shift aside [m].
    shift_sd_m : float
        Standard error of the shift it shares with its plan, 0 without one [m].
    foot_m, slope_east, slope_north : (n,) float64 array
        Height of the foot [m], NaN where not known, and how it changes as the
        point moves on the terrain, no unit; slope 0 where the height was given.
    foot_sd_m : float
        Standard error of the foot's height at its place [m].
    object_m, object_sd_m : float
        Height of the top above the foot and its standard error [m].
    """

    id: str
    plan_id: str
    east_m: Array
    north_m: Array
    weight: Array
    sd_m: float
    shift_sd_m: float
    foot_m: Array
    slope_east: Array
    slope_north: Array
    foot_sd_m: float
    object_m: float
    object_sd_m: float

    def doubled(self) -> PlacedFeature:
        """Return it twice as doubtful in place and height."""
        return replace(
            self,
            sd_m=2.0 * self.sd_m,
            shift_sd_m=2.0 * self.shift_sd_m,
            foot_sd_m=2.0 * self.foot_sd_m,
            object_sd_m=2.0 * self.object_sd_m,
        )


@dataclass(frozen=True)
class Candidates:
    """Hold every point that a feature or mark may be, one row each.

    Attributes
    ----------
    feature_ids, plan_ids : tuple of str
        Feature and plan of each; the plan is empty without one.
    east_m, north_m, height_m : (n,) float64 array
        Points [m]; the height is NaN where it is not known.
    weight : (n,) float64 array
        Probability of each; they add up to 1.
    sd_m, shift_sd_m, height_sd_m : (n,) float64 array
        Standard errors: its own along each axis, that of the shift it shares with
        its plan, and that of its height at its place [m].
    slope_east, slope_north : (n,) float64 array
        How the height changes as the point moves, no unit.
    """

    feature_ids: tuple[str, ...]
    plan_ids: tuple[str, ...]
    east_m: Array
    north_m: Array
    height_m: Array
    weight: Array
    sd_m: Array
    shift_sd_m: Array
    height_sd_m: Array
    slope_east: Array
    slope_north: Array

    @property
    def count(self) -> int:
        """Return how many points there are."""
        return len(self.east_m)

    def doubled(self) -> Candidates:
        """Return them twice as doubtful in place and height."""
        return replace(
            self,
            sd_m=2.0 * self.sd_m,
            shift_sd_m=2.0 * self.shift_sd_m,
            height_sd_m=2.0 * self.height_sd_m,
        )


@dataclass(frozen=True)
class Placement:
    """Hold the features and marks of a plate, ready to be looked up.

    Attributes
    ----------
    features : mapping of str to PlacedFeature
        By id.
    marks : mapping of str to Mark
        By id.
    """

    features: Mapping[str, PlacedFeature]
    marks: Mapping[str, Mark]

    def doubled(self) -> Placement:
        """Return it with every feature twice as doubtful."""
        features = {name: one.doubled() for name, one in self.features.items()}
        return replace(self, features=features)

    def candidates(self, name: str, at: At = "ground") -> Candidates:
        """Return the points that a feature or mark may be.

        Parameters
        ----------
        name : str
            Id of a feature or of a mark.
        at : {"ground", "top", "water"}
            Which end of a feature; a mark's own goes before it.

        Raises
        ------
        EvidenceError
            If there is neither feature nor mark of that id.
        """
        if name in self.marks:
            mark = self.marks[name]
            parts = [(part.feature_id, part.weight) for part in mark.identities]
            at = mark.at
        else:
            parts = [(name, 1.0)]
        for feature_id, _ in parts:
            if feature_id not in self.features:
                raise EvidenceError(
                    f"There is no feature {feature_id!r}.", "Check the name."
                )
        return _joined([(self.features[f], weight) for f, weight in parts], at)


def known_heights(terrain: Terrain) -> HasHeight:
    """Return what says of longitudes and latitudes whether the terrain knows them."""

    def known(lon_deg: Array, lat_deg: Array) -> NDArray[np.bool_]:
        east, north = terrain.frame.from_lonlat(lon_deg, lat_deg)
        return np.isfinite(height_m(terrain, east, north))

    return known


def place_evidence(
    evidence: Evidence,
    frame: Frame,
    terrain: Terrain | None = None,
    terrain_sd_m: float = TERRAIN_SD_M,
) -> Placement:
    """Place the features of a plate's evidence.

    Parameters
    ----------
    evidence : Evidence
        Checked: every name in it is known.
    frame : Frame
        Where to.
    terrain : Terrain, optional
        What feet without a height stand on; without it these heights are NaN.
    terrain_sd_m : float
        Standard error of the terrain's heights [m].
    """
    shifts = {plan.id: plan.shared_shift_sd_m for plan in evidence.plans}
    return Placement(
        {
            feature.id: place_feature(
                feature, frame, terrain, shifts.get(feature.plan_id, 0.0), terrain_sd_m
            )
            for feature in evidence.features
        },
        {mark.id: mark for mark in evidence.marks},
    )


def place_feature(
    feature: Feature,
    frame: Frame,
    terrain: Terrain | None = None,
    shift_sd_m: float = 0.0,
    terrain_sd_m: float = TERRAIN_SD_M,
) -> PlacedFeature:
    """Place one feature; the parameters are those of `place_evidence`."""
    points, weight, step_m = laid_out(
        geometry_in_frame(feature.place, frame), feature.sd_m
    )
    foot_m, slope_east, slope_north, foot_sd_m = _foot(
        feature, points, terrain, terrain_sd_m
    )
    object_m, object_sd_m = _object(feature)
    return PlacedFeature(
        feature.id,
        feature.plan_id,
        points[:, 0],
        points[:, 1],
        weight,
        # A point stands for all within half a step of it.
        float(np.hypot(feature.sd_m, step_m / np.sqrt(12.0))),
        shift_sd_m,
        foot_m,
        slope_east,
        slope_north,
        foot_sd_m,
        object_m,
        object_sd_m,
    )


def _foot(
    feature: Feature, points: Array, terrain: Terrain | None, terrain_sd_m: float
) -> tuple[Array, Array, Array, float]:
    """Return the heights of the foot, their slopes, and their standard error."""
    level = np.zeros(len(points))
    if feature.height_m is not None:
        sd_m = feature.height_sd_m or GIVEN_HEIGHT_SD_M
        return np.full(len(points), feature.height_m), level, level, sd_m
    sd_m = feature.height_sd_m or terrain_sd_m
    if terrain is None:
        return np.full(len(points), np.nan), level, level, sd_m
    east, north = points.T
    # Over less than a cell the slope is a facet's; over less than the doubt of the
    # place it tells nothing of how the height varies there.
    reach_m = max(terrain.cell_m, feature.sd_m)
    heights = height_m(terrain, east, north).astype(np.float64)
    slopes = [
        (
            height_m(terrain, east + de, north + dn)
            - height_m(terrain, east - de, north - dn)
        ).astype(np.float64)
        / (2.0 * reach_m)
        for de, dn in ((reach_m, 0.0), (0.0, reach_m))
    ]
    return heights, np.nan_to_num(slopes[0]), np.nan_to_num(slopes[1]), sd_m


def _object(feature: Feature) -> tuple[float, float]:
    if feature.object_height_m is None:
        return OBJECT_M, OBJECT_SD_M
    height = feature.object_height_m
    return height, feature.object_height_sd_m or max(0.5, OBJECT_SHARE * height)


def _joined(parts: Iterable[tuple[PlacedFeature, float]], at: At) -> Candidates:
    """Return the points of several features, weighted."""
    columns: list[list[Array]] = [[] for _ in range(9)]
    names: list[str] = []
    plans: list[str] = []
    for feature, weight in parts:
        count = len(feature.east_m)
        on_top = at == "top"
        height_m = feature.foot_m + (feature.object_m if on_top else 0.0)
        sd_m = np.hypot(feature.foot_sd_m, feature.object_sd_m if on_top else 0.0)
        # Water is level: its edge does not climb as it moves.
        tilts = at != "water"
        for column, value in zip(
            columns,
            (
                feature.east_m,
                feature.north_m,
                height_m,
                weight * feature.weight,
                np.full(count, feature.sd_m),
                np.full(count, feature.shift_sd_m),
                np.full(count, sd_m),
                feature.slope_east * tilts,
                feature.slope_north * tilts,
            ),
            strict=True,
        ):
            column.append(value)
        names += [feature.id] * count
        plans += [feature.plan_id] * count
    joined = [np.concatenate(column) for column in columns]
    return Candidates(tuple(names), tuple(plans), *joined)
