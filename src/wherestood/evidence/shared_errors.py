"""Tell the errors that several things marked on one plate share.

Each is a standard normal unknown beside those of the camera. The first is the lens's
height. A feature that several items speak of has four (its place east and north, its
foot, its object's height), a plan two, a water two (its level, its shore's place):
weighed one by one they would count one error as several that cancel.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.placed import Candidates, Placement

__all__ = ["ERRORS", "LENS", "SharedErrors", "errors_of", "shared_errors"]

Array = NDArray[np.float64]

#: Number of the lens's height among the errors.
LENS = 0
#: Errors of a candidate that may be shared: its place, its plan's shift, its foot's
#: height, its object's [m].
ERRORS = 4
_OF_FEATURE, _OF_PLAN, _OF_WATER = 4, 2, 2


@dataclass(frozen=True)
class SharedErrors:
    """Hold the number of the first error of each feature, plan and water.

    Attributes
    ----------
    features, plans, waters : mapping of str to int
        By id; features and plans of a single item are not there.
    count : int
        How many errors there are.
    """

    features: Mapping[str, int] = field(default_factory=dict)
    plans: Mapping[str, int] = field(default_factory=dict)
    waters: Mapping[str, int] = field(default_factory=dict)
    count: int = 1


def shared_errors(
    seen: Sequence[Candidates], placement: Placement, waters: Iterable[str] = ()
) -> SharedErrors:
    """Give each error of what several items speak of a number.

    Parameters
    ----------
    seen : sequence of Candidates
        What each mark or size may be.
    placement : Placement
        A line or an area is in a different place for each of its items: what errs
        there is mostly where along it the thing is, and stays each item's own.
    waters : iterable of str
        Every water that has a level.
    """
    spoken = Counter(name for points in seen for name in set(points.feature_ids))
    mapped = Counter(name for points in seen for name in set(points.plan_ids) - {""})
    count = LENS + 1
    features, plans, numbered = {}, {}, {}
    for name, times in spoken.items():
        if times > 1 and len(placement.features[name].east_m) == 1:
            features[name] = count
            count += _OF_FEATURE
    for name, times in mapped.items():
        if times > 1:
            plans[name] = count
            count += _OF_PLAN
    for name in dict.fromkeys(waters):
        numbered[name] = count
        count += _OF_WATER
    return SharedErrors(features, plans, numbered, count)


def errors_of(
    points: Candidates, placement: Placement, shared: SharedErrors, *, top: bool
) -> tuple[NDArray[np.int64], Array]:
    """Return which errors each candidate shares, and how large they are.

    Returns
    -------
    where : (candidates, 2) int64 array
        First error of its feature and of its plan, -1 for none.
    sd_m : (candidates, 4) float64 array
        As `ERRORS`, 0 for what is not shared [m].
    """
    where = np.full((points.count, 2), -1, dtype=np.int64)
    sd_m = np.zeros((points.count, ERRORS))
    for row, (name, plan) in enumerate(
        zip(points.feature_ids, points.plan_ids, strict=True)
    ):
        feature = placement.features[name]
        if name in shared.features:
            where[row, 0] = shared.features[name]
            sd_m[row, 0] = points.sd_m[row]
            sd_m[row, 2] = feature.foot_sd_m
            sd_m[row, 3] = feature.object_sd_m if top else 0.0
        if plan in shared.plans:
            where[row, 1] = shared.plans[plan]
            sd_m[row, 1] = points.shift_sd_m[row]
    return where, sd_m
