"""Set marks that did not count against where the answer foretells them."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.items import Mark
from wherestood.fix.checked import HeldBack
from wherestood.fix.foretold import foretell
from wherestood.fix.likely_cameras import LikelyCameras
from wherestood.fix.problem import Problem

__all__ = ["held_back"]

Array = NDArray[np.float64]


def held_back(problem: Problem, cameras: LikelyCameras) -> tuple[HeldBack, ...]:
    """Return where each mark held back was foretold, and how far off it is.

    Notes
    -----
    Of a mark that may be several features the one that fits best is told, so that
    such a mark passes more easily than another.
    """
    found = (_foretold(problem, cameras, mark) for mark in problem.held_back.marks)
    return tuple(one for one in found if one is not None)


def _foretold(problem: Problem, cameras: LikelyCameras, mark: Mark) -> HeldBack | None:
    placement = problem.held_back.placement
    assert placement is not None
    points = placement.candidates(mark.id, mark.at)
    told = foretell(problem, cameras, points)
    best: HeldBack | None = None
    for number in range(points.count):
        mean, covariance = told.together(cameras.weight, number)
        if not np.isfinite(mean).all():
            continue
        covariance = covariance + mark.sd_px**2 * np.eye(2)
        off = np.array((mark.x_px, mark.y_px)) - mean
        off_sds = float(np.sqrt(off @ np.linalg.solve(covariance, off)))
        if best is not None and off_sds >= best.off_sds:
            continue
        values, ways = np.linalg.eigh(covariance)
        long_way = ways[:, 1]
        best = HeldBack(
            mark.id,
            points.feature_ids[number],
            float(mean[0]),
            float(mean[1]),
            math.sqrt(values[1]),
            math.sqrt(max(values[0], 0.0)),
            math.degrees(math.atan2(long_way[1], long_way[0])) % 180.0,
            float(np.hypot(*off)),
            off_sds,
            # Of a normal error in the plane.
            math.exp(-0.5 * min(off_sds, 38.0) ** 2),
        )
    return best
