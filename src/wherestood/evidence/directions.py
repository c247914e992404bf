"""Work out in which direction each feature lies, and how sure that is.

Symbols
-------
E, N : the feature east and north of the station [m]; d its distance [m]
z, z_s : heights of feature and lens [m]
az : grid bearing, atan2(E, N) [rad]; t : tangent of elevation, no unit
kappa : (1 - k) / 2R [1/m], k the refraction coefficient
s : standard error of the feature along each axis [m]
g_r, g_c : slope of the ground at the feature, along the ray and to its right

    t = (z - z_s) / d - kappa d

    d az / d east = -cos az / d       d az / d north = sin az / d
    d t / d east = (t + 2 kappa d) sin az / d      d t / d lens = -1 / d
    d t / d north = (t + 2 kappa d) cos az / d     d t / d k = d / 2R

of the *station*; moving the feature changes the bearing the other way, and the
elevation so too, with the ground's slope besides. Both errors rest on one movement:

    var az = s^2 / d^2       cov(az, t) = s^2 g_c / d^2
    var t = (var z + s^2 ((g_r - t - 2 kappa d)^2 + g_c^2)) / d^2

Within a few s of a feature its bearing may be any: d^2 + 3 s^2 / pi^2 stands for d^2
in all that divides an error, so that the sd of a bearing grows to that of any at all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.items.on_plate import Mark
from wherestood.evidence.placed import Candidates, Placement
from wherestood.evidence.stations import Stations

__all__ = ["Directions", "MarkDirections", "directions", "mark_directions"]

Array = NDArray[np.float64]

#: Sd of a bearing that may be any: uniform over a turn [rad].
ANY_BEARING_SD = math.pi / math.sqrt(3.0)


@dataclass(frozen=True)
class Directions:
    """Hold directions from stations to points; every array (stations, points).

    Attributes
    ----------
    azimuth_rad : float64 array
        Grid bearing, clockwise from grid north [rad].
    tangent : float64 array
        Tangent of elevation, curved and refracted; NaN where the height is not
        known.
    distance_m : float64 array
        Along the ground [m].
    sd_azimuth_rad, sd_tangent : float64 array
        Standard errors from the feature's own place and height, its plan's shift
        included, the station's and the refraction's not.
    covariance : float64 array
        Of azimuth and tangent [rad].
    azimuth_by_east, azimuth_by_north : float64 array
        Derivatives with the *station's* place [rad/m].
    tangent_by_east, tangent_by_north, tangent_by_lens : float64 array
        Derivatives with the station's place and the lens's height [1/m].
    tangent_by_refraction : float64 array
        Derivative with the refraction coefficient, no unit.
    by_feature : (stations, points, 5) float64 array
        Derivatives with the *feature's* place and height, softened near by: of
        azimuth by east and north, of the tangent by east, north [1/m] and height.
    """

    azimuth_rad: Array
    tangent: Array
    distance_m: Array
    sd_azimuth_rad: Array
    sd_tangent: Array
    covariance: Array
    azimuth_by_east: Array
    azimuth_by_north: Array
    tangent_by_east: Array
    tangent_by_north: Array
    tangent_by_lens: Array
    tangent_by_refraction: Array
    by_feature: Array


@dataclass(frozen=True)
class MarkDirections:
    """Hold the directions of what marks may be.

    Attributes
    ----------
    mark_ids : tuple of str
        The marks, in order.
    weight : (marks, candidates) float64 array
        Probability of each candidate; 0 fills the row of a mark with fewer.
    feature_ids : tuple of tuple of str
        Feature of each candidate of each mark, empty for filling.
    directions : Directions
        Arrays of (stations, marks, candidates); filling repeats a mark's first.
    """

    mark_ids: tuple[str, ...]
    weight: Array
    feature_ids: tuple[tuple[str, ...], ...]
    directions: Directions


def directions(stations: Stations, points: Candidates) -> Directions:
    """Return the directions from stations to points.

    Parameters
    ----------
    stations : Stations
        Where one looks from.
    points : Candidates
        Where to.

    Returns
    -------
    Directions
        Arrays of (stations, points). At the very place of a feature the bearing is
        0 and the derivatives are those at a millimetre.
    """
    east = points.east_m - stations.east_m[:, None]
    north = points.north_m - stations.north_m[:, None]
    distance = np.maximum(np.hypot(east, north), 1e-3)
    azimuth = np.arctan2(east, north)
    sine, cosine = np.sin(azimuth), np.cos(azimuth)
    kappa = stations.curvature_per_m
    above = points.height_m - stations.lens_m[:, None]
    tangent = above / distance - kappa * distance
    fall = tangent + 2.0 * kappa * distance
    variance = points.sd_m**2 + points.shift_sd_m**2
    softened = distance**2 + variance / ANY_BEARING_SD**2
    along = points.slope_east * sine + points.slope_north * cosine
    across = points.slope_east * cosine - points.slope_north * sine
    root = np.sqrt(softened)
    by_feature = np.stack(
        (
            cosine / root,
            -sine / root,
            (points.slope_east - fall * sine) / root,
            (points.slope_north - fall * cosine) / root,
            1.0 / root,
        ),
        axis=-1,
    )
    lifted = points.height_sd_m**2 + variance * ((along - fall) ** 2 + across**2)
    return Directions(
        azimuth_rad=azimuth,
        tangent=tangent,
        distance_m=distance,
        sd_azimuth_rad=np.sqrt(variance / softened),
        sd_tangent=np.sqrt(lifted / softened),
        covariance=variance * across / softened,
        azimuth_by_east=-cosine / distance,
        azimuth_by_north=sine / distance,
        tangent_by_east=fall * sine / distance,
        tangent_by_north=fall * cosine / distance,
        tangent_by_lens=-1.0 / distance,
        tangent_by_refraction=distance / (2.0 * stations.radius_m),
        by_feature=by_feature,
    )


def mark_directions(
    stations: Stations, marks: tuple[Mark, ...], placement: Placement
) -> MarkDirections:
    """Return the directions of every feature that marks may be.

    Parameters
    ----------
    stations : Stations
        Where one looks from.
    marks : tuple of Mark
        Those tied to a feature.
    placement : Placement
        Where the features are.

    Returns
    -------
    MarkDirections
        Arrays of (stations, marks, candidates).
    """
    each = [placement.candidates(mark.id, mark.at) for mark in marks]
    most = max((points.count for points in each), default=0)
    weight = np.zeros((len(each), most))
    names: list[tuple[str, ...]] = []
    which: list[Candidates] = []
    for row, points in enumerate(each):
        weight[row, : points.count] = points.weight
        filling = most - points.count
        names.append((*points.feature_ids, *[""] * filling))
        which.append(_filled(points, most))
    shape = (stations.count, len(each), most)
    if not which:
        empty = np.empty(shape)
        return MarkDirections((), weight, (), Directions(*[empty] * 13))
    found = [directions(stations, points) for points in which]
    stacked = {
        name: np.stack([getattr(one, name) for one in found], axis=1)
        for name in Directions.__annotations__
    }
    return MarkDirections(
        tuple(mark.id for mark in marks), weight, tuple(names), Directions(**stacked)
    )


def _filled(points: Candidates, count: int) -> Candidates:
    """Return points with the first repeated up to a number of them."""
    take = np.concatenate(
        [np.arange(points.count), np.zeros(count - points.count, dtype=np.int64)]
    )
    arrays: list[Array] = [
        getattr(points, name)[take]
        for name in Candidates.__annotations__
        if not name.endswith("_ids")
    ]
    return Candidates(
        tuple(points.feature_ids[i] for i in take),
        tuple(points.plan_ids[i] for i in take),
        *arrays,
    )
