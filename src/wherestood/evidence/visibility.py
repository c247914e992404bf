"""Weigh that a feature shows on a plate, or does not.

Symbols
-------
t_f : tangent of the feature's elevation from the lens, no unit; D_f its distance [m]
t_b : greatest tangent of the ground before it, where rays pass; D_b its distance [m]
Phi : the normal integral; m cover's height above the model, on average [m]

    P(in sight) = Phi((t_f - t_b - m / D_b) / sd)
    var = var t_f + (var cover + var terrain) / D_b^2 + var lens (1/D_b - 1/D_f)^2

t_b is exact on the bilinear surface: the same walk that finds horizons, stopped short
of the feature. Seen: P. Hidden: ``1 - would_show P(in the picture) P``: what nobody
makes out may yet be in sight, too small, too faint, or on a damaged corner.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from wherestood.evidence.directions import directions
from wherestood.evidence.items.relations import Hidden, Seen
from wherestood.evidence.placed import TERRAIN_SD_M, Candidates, Placement
from wherestood.evidence.stations import Stations
from wherestood.evidence.weighed import Weighed, weigh_answer
from wherestood.terrain.eight_rays import fill_horizon
from wherestood.terrain.horizon import HorizonModel, nearest_start_m
from wherestood.terrain.rays import ray_steps

__all__ = [
    "Blocking",
    "SightNoise",
    "blocking",
    "in_sight",
    "weigh_hidden",
    "weigh_seen",
]

Array = NDArray[np.float64]

#: A sight line ends so many cells before a feature: its own ground is no obstacle.
_SHORT_CELLS = 1.5
#: ... and so many standard errors of its place.
_SHORT_SDS = 1.0
#: Beyond the terrain nobody knows what stands between.
_UNKNOWN_GROUND = 0.5


@dataclass(frozen=True)
class SightNoise:
    """Hold what is believed of the ground that sight lines pass over.

    Attributes
    ----------
    terrain_sd_m : float
        Standard error of the model's heights at a crest [m].
    cover_mean_m, cover_sd_m : float
        What stands on a crest above the model, and how that varies [m]: trees,
        and crests that a model planes off.
    """

    terrain_sd_m: float = TERRAIN_SD_M
    cover_mean_m: float = 3.0
    cover_sd_m: float = 10.0

    def doubled(self) -> SightNoise:
        """Return it twice as doubtful."""
        return replace(
            self,
            terrain_sd_m=2.0 * self.terrain_sd_m,
            cover_sd_m=2.0 * self.cover_sd_m,
        )


@dataclass(frozen=True)
class Blocking:
    """Hold the ground that stands highest before features, (stations, points).

    Attributes
    ----------
    tangent : float64 array
        Tangent of its elevation; -inf where nothing lies between.
    distance_m : float64 array
        How far it is [m]; NaN where nothing lies between.
    """

    tangent: Array
    distance_m: Array


def blocking(model: HorizonModel, stations: Stations, points: Candidates) -> Blocking:
    """Find the ground that stands highest between stations and points.

    Parameters
    ----------
    model : HorizonModel
        The terrain.
    stations : Stations
        Where one looks from.
    points : Candidates
        Where to.

    Notes
    -----
    Ground within `nearest_start_m` of the lens and, about the feature, within 1.5
    cells or one standard error of its place is passed over. A cell with an unknown
    node hides nothing.
    """
    cell = model.terrain.cell_m
    short_m = np.maximum(_SHORT_CELLS * cell, _SHORT_SDS * points.sd_m)
    tangent = np.empty((stations.count, points.count))
    distance = np.empty_like(tangent)
    way = directions(stations, points)
    sines, cosines = (
        part.reshape(way.azimuth_rad.shape)
        for part in ray_steps(way.azimuth_rad.ravel())
    )
    _fill_blocking(
        model.pyramid.parts,
        (stations.east_m - model.terrain.west_m) / cell,
        (stations.north_m - model.terrain.south_m) / cell,
        stations.lens_m.astype(np.float64),
        sines,
        cosines,
        nearest_start_m(cell) / cell,
        np.ascontiguousarray((way.distance_m - short_m) / cell),
        stations.curvature_per_m * cell * cell,
        tangent,
        distance,
    )
    return Blocking(tangent / cell, distance * cell)


def in_sight(
    model: HorizonModel,
    stations: Stations,
    points: Candidates,
    noise: SightNoise | None = None,
) -> Array:
    """Return the probability that each point is in sight, (stations, points).

    Where the feature's height is not known, or the station's, it is one half; where
    the feature lies beyond the terrain, at most one half.
    """
    noise = noise or SightNoise()
    ground = blocking(model, stations, points)
    way = directions(stations, points)
    clear = np.isneginf(ground.tangent)
    per_m = np.where(clear, 0.0, 1.0 / np.where(clear, 1.0, ground.distance_m))
    raised = np.where(clear, 0.0, ground.tangent) + noise.cover_mean_m * per_m
    variance = (
        way.sd_tangent**2
        + (noise.terrain_sd_m**2 + noise.cover_sd_m**2) * per_m**2
        + (stations.lens_sd_m * (per_m - 1.0 / way.distance_m)) ** 2
    )
    chance = np.where(clear, 1.0, ndtr((way.tangent - raised) / np.sqrt(variance)))
    chance[~np.isfinite(way.tangent)] = _UNKNOWN_GROUND
    beyond = ~_on_grid(model, points)
    chance[:, beyond] *= _UNKNOWN_GROUND
    return np.asarray(chance)


def weigh_seen(
    item: Seen,
    placement: Placement,
    model: HorizonModel,
    stations: Stations,
    noise: SightNoise | None = None,
) -> Weighed:
    """Weigh that a feature shows, at stations.

    Parameters
    ----------
    item : Seen
        What shows.
    placement : Placement
        Where features are.
    model : HorizonModel
        The terrain.
    stations : Stations
        For which it is weighed.
    noise : SightNoise, optional
        What is believed of cover and terrain.

    Returns
    -------
    Weighed
        Log probability. That it lies in the picture is the camera's to say.
    """
    points = placement.candidates(item.speaks_of()[0], item.at)
    chance = in_sight(model, stations, points, noise) @ points.weight
    return weigh_answer(np.minimum(chance, 1.0), item.trust)


def weigh_hidden(
    item: Hidden,
    placement: Placement,
    model: HorizonModel,
    stations: Stations,
    noise: SightNoise | None = None,
    in_picture: Array | None = None,
) -> Weighed:
    """Weigh that a feature does not show; parameters as of `weigh_seen`.

    Parameters
    ----------
    in_picture : (stations,) float64 array, optional
        Probability that the picture takes it in, 1 if left out: then the item says
        that the place, in view, does not show it.
    """
    points = placement.candidates(item.speaks_of()[0], item.at)
    chance = in_sight(model, stations, points, noise) @ points.weight
    shown = item.would_show * np.minimum(chance, 1.0)
    if in_picture is not None:
        shown = shown * in_picture
    return weigh_answer(1.0 - shown, item.trust)


def _on_grid(model: HorizonModel, points: Candidates) -> NDArray[np.bool_]:
    terrain = model.terrain
    rows, columns = terrain.elevation_m.shape
    column = (points.east_m - terrain.west_m) / terrain.cell_m
    row = (points.north_m - terrain.south_m) / terrain.cell_m
    return np.asarray(
        (column >= 0.0) & (column <= columns - 1) & (row >= 0.0) & (row <= rows - 1)
    )


@numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def _fill_blocking(  # type: ignore[no-untyped-def]
    pyramid, x, y, z, sines, cosines, start, stops, kappa, tangent, distance
):
    """Fill the highest ground before each point, stations one to a thread."""
    every = np.arange(sines.shape[1])
    for s in numba.prange(x.size):
        fill_horizon(
            pyramid, x[s], y[s], z[s], sines[s], cosines[s], start, stops[s], kappa,
            tangent[s], distance[s], None, 0.0, tangent[s], every,
        )  # fmt: skip
