"""Say how small a region could be at best, for one who knows the true noise.

The information of the skyline about the station, all else summed out with what is
believed of it, at the true station and camera, at the one level of noise that the
plate was drawn with, at full power, and with no other place to be confused with:

    region of 90% = pi q sqrt(det P),  span = 2 sqrt(q l)

P the covariance of east and north, q the 90% quantile of chi-squared with two degrees
of freedom, l the greater eigenvalue of P. No region is larger than nine tenths of the
ground searched.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import chi2

from study_plates import true_unknowns
from wherestood.demo.invented import InventedCase
from wherestood.evidence.spread import camera_covariances
from wherestood.fix.kept_ground import shift_reach_m
from wherestood.fix.problem import Problem

#: Nothing is believed of the station beforehand [m].
FAR_M = 1e5
NINE_IN_TEN = float(chi2.ppf(0.9, 2))


@dataclass(frozen=True)
class Bound:
    """Hold the best that could be: area of the 90% ellipse [ha], its length [m]."""

    area_ha: float
    span_m: float


def information_bound(problem: Problem, case: InventedCase, level: int) -> Bound:
    """Return the bound of a plate whose noise was drawn at a level."""
    usual = problem.noise
    noise = replace(
        usual,
        levels=usual.levels[level : level + 1],
        level_log_weight=np.zeros(1),
        middle=0,
        temper=1.0,
    )
    prior_sd = problem.prior_sd.copy()
    prior_sd[-2:] = FAR_M
    profiles = problem.profiles(*case.station_m[:2, None])
    covariance = camera_covariances(
        true_unknowns(case)[None],
        problem.hands[0].samples,
        profiles,
        problem.curvature_per_m,
        problem.prior_mean,
        prior_sd,
        problem.lens.limits,
        noise,
    )[0, -2:, -2:]
    # Even then nobody knows how far the whole model is shifted.
    covariance = covariance + shift_reach_m(problem) ** 2 * np.eye(2)
    area_m2 = math.pi * NINE_IN_TEN * math.sqrt(max(np.linalg.det(covariance), 0.0))
    whole_m2 = problem.area.in_frame(problem.terrain.frame).area
    area_m2 = min(area_m2, 0.9 * whole_m2)
    longest = float(np.linalg.eigvalsh(covariance)[-1])
    return Bound(area_m2 / 1e4, 2.0 * math.sqrt(NINE_IN_TEN * longest))
