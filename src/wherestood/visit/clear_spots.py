"""Find where the plate's view is open, if it is blocked at the spot itself.

Only what the elevation model holds blocks a view: a model of tree tops and roofs has
trees and houses, one of the bare ground has neither.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.record.doubt import distance_in_words, way_in_words
from wherestood.terrain.ground import height_m
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain

__all__ = ["ClearSpot", "OpenView", "open_view", "view_sentences"]

Array = NDArray[np.float64]
#: A view that ends nearer than this is blocked [m].
_BLOCKED_M = 100.0
#: Spots are tried on rings of these radii, so many on each [m].
_RINGS_M, _ON_RING = (10.0, 20.0, 40.0, 80.0, 160.0), 16
_RAYS, _LENS_M, _FARTHEST_M = 61, 1.5, 30_000.0
#: Open enough, as a share of the frame's width; and how many spots are told.
_OPEN, _MOST = 0.9, 3
#: What stands higher than most ground so far around it is a crown or a roof [m].
_AROUND_M, _CROWN_M = 30.0, 2.5
#: A spot is built over or overgrown where the model falls off abruptly on most sides
#: of it: so steeply, by so much at least, on more than so many of so many ways. Only a
#: model of such cells shows crowns and roofs one by one [rad, m].
_ABRUPT_RAD, _EDGE_M, _SIDES, _WAYS = math.radians(55.0), 2.0, 9, 16
_FINE_CELL_M = 5.0
#: Things this far off are told of when the view changes [m].
_NEAR_THING_M = 100.0


@dataclass(frozen=True)
class ClearSpot:
    """Hold a spot near by from which the view is open.

    Attributes
    ----------
    east_m, north_m : float
        From the very spot [m].
    share : float
        How much of the frame's width is open, 0 to 1.
    far_m : float
        How far off the horizon is from there, in the middle of its bearings [m].
    """

    east_m: float
    north_m: float
    share: float
    far_m: float

    @property
    def away_m(self) -> float:
        """Return how far it is from the very spot [m]."""
        return math.hypot(self.east_m, self.north_m)


@dataclass(frozen=True)
class OpenView:
    """Hold how open the view is.

    Attributes
    ----------
    share : float
        At the very spot, of the frame's width, 0 to 1.
    spots : tuple of ClearSpot
        The nearest open ones, where it is not.
    covered_m : float
        How high the spot lies above the ground about it, built over or overgrown; 0
        where it is not, as far as the model tells [m].
    """

    share: float
    spots: tuple[ClearSpot, ...]
    covered_m: float = 0.0


def open_view(
    model: HorizonModel, place_m: tuple[float, float], edges_deg: tuple[float, float]
) -> OpenView | None:
    """Return how open a plate's view is, and where near by it is open.

    Parameters
    ----------
    model : HorizonModel
        The terrain of today.
    place_m : (east, north)
        The very spot [m].
    edges_deg : (left, right)
        Grid bearings of the frame's edges [deg].

    Returns
    -------
    OpenView or None
        None where the ground of the spot is not known.
    """
    terrain = model.terrain
    angle = 2.0 * np.pi * np.arange(_ON_RING) / _ON_RING
    off = [(0.0, 0.0)]
    off += [(r * np.sin(a), r * np.cos(a)) for r in _RINGS_M for a in angle]
    east, north = (np.array(place_m)[:, None] + np.array(off).T).astype(np.float64)
    ground = height_m(terrain, east, north).astype(np.float64)
    known = np.isfinite(ground)
    if not known[0]:
        return None
    covered = np.zeros(len(off))
    covered[0] = _covered_m(terrain, place_m)
    left, right = edges_deg
    wide = (right - left) % 360.0
    bearing = np.radians(left + wide * (np.arange(_RAYS) + 0.5) / _RAYS) % (2.0 * np.pi)
    found = model.horizons(
        east[known],
        north[known],
        (ground - covered)[known] + _LENS_M,
        bearing,
        nearest_m=1.5 * terrain.cell_m,
        farthest_m=_FARTHEST_M,
    )
    told = np.isfinite(found.tangent)
    far = np.where(told, found.distance_m, np.inf)
    share = (far >= _BLOCKED_M).mean(axis=1)
    middle = np.median(np.minimum(far, _FARTHEST_M), axis=1)
    places = np.array(off)[known]
    spots = [
        ClearSpot(float(e), float(n), float(s), float(m))
        for (e, n), s, m in zip(places[1:], share[1:], middle[1:], strict=True)
        if s >= _OPEN
    ]
    if terrain.surface != "ground":
        spots = [one for one in spots if not _on_top(terrain, place_m, one)]
    spots.sort(key=lambda one: (round(one.away_m), -one.share))
    chosen: list[ClearSpot] = []
    for one in spots if share[0] < _OPEN else ():
        if len(chosen) < _MOST and all(_apart(one, other) for other in chosen):
            chosen.append(one)
    return OpenView(float(share[0]), tuple(chosen), float(covered[0]))


def _apart(one: ClearSpot, other: ClearSpot) -> bool:
    """Say whether two spots lie in ways that differ by an eighth of a turn at least."""
    across = one.east_m * other.north_m - one.north_m * other.east_m
    along = one.east_m * other.east_m + one.north_m * other.north_m
    return abs(math.atan2(across, along)) > 0.99 * math.pi / 4.0


def _covered_m(terrain: Terrain, place_m: tuple[float, float]) -> float:
    """Return how high a crown or roof stands over a spot; 0 where none is told [m].

    A hilltop falls off on all sides too, but not within a step.
    """
    if terrain.surface == "ground" or terrain.cell_m > _FINE_CELL_M:
        return 0.0
    step = max(terrain.cell_m, 1.0)
    along = np.arange(0.0, _AROUND_M + 3.0 * step, step)
    way = 2.0 * np.pi * np.arange(_WAYS) / _WAYS
    heights = height_m(
        terrain,
        place_m[0] + along * np.sin(way)[:, None],
        place_m[1] + along * np.cos(way)[:, None],
    ).astype(np.float64)
    # An edge may lie between nodes: its fall is then spread over two steps. What falls
    # on as steeply beyond is a slope.
    fall = heights[:, :-2] - heights[:, 2:]
    least = max(_EDGE_M, step * math.tan(_ABRUPT_RAD))
    edge = np.nan_to_num(fall[:, :-2] - np.maximum(fall[:, 2:], 0.0)) > least
    sides = edge.any(axis=1)
    if sides.sum() <= _SIDES:
        return 0.0
    beyond = heights[np.arange(_WAYS), edge.argmax(axis=1) + 2][sides]
    return max(float(heights[0, 0] - np.median(beyond)), 0.0)


def _on_top(terrain: Terrain, place_m: tuple[float, float], spot: ClearSpot) -> bool:
    """Say whether a spot seems to lie on a crown or a roof: nobody stands there."""
    angle = np.radians(np.arange(0.0, 360.0, 30.0))
    east, north = place_m[0] + spot.east_m, place_m[1] + spot.north_m
    around = height_m(
        terrain, east + _AROUND_M * np.sin(angle), north + _AROUND_M * np.cos(angle)
    )
    here = float(height_m(terrain, np.array([east]), np.array([north]))[0])
    # On a slope half of what lies around is lower; on a crown or a roof most of it.
    return bool(np.nanquantile(around, 0.65) < here - _CROWN_M)


def view_sentences(view: OpenView, surface: str) -> list[str]:
    """Return how open the view is, in words.

    Parameters
    ----------
    view : OpenView
    surface : {"ground", "top", "unknown"}
        What the elevation model is of.
    """
    of = {
        "ground": "of bare ground: trees and houses are not in it",
        "top": "of tree tops and roofs",
    }.get(surface, "of an unknown surface")
    first = (
        f"By the elevation model ({of}) the view is open over {view.share:.0%} of the "
        "frame."
    )
    if view.covered_m > 0.0:
        first = (
            f"By the elevation model ({of}) something stands {view.covered_m:.0f} m "
            "high on the spot itself: it is built over or overgrown, and the view is "
            f"open over {view.share:.0%} of the frame."
        )
    if view.share >= _OPEN:
        return [first]
    if not view.spots:
        return [first, f"Within {_RINGS_M[-1]:.0f} m no spot has it open."]
    sentences = [first]
    for one in view.spots:
        far_deg = math.degrees(one.away_m / max(one.far_m, 1.0))
        near_deg = math.degrees(math.atan2(one.away_m, _NEAR_THING_M))
        way = way_in_words(one.east_m, one.north_m)
        sentences.append(
            f"{one.away_m:.0f} m {way} of it the view is open over {one.share:.0%}: "
            f"what is {distance_in_words(one.far_m)} off shifts by up to "
            f"{far_deg:.1f}°, what is {_NEAR_THING_M:.0f} m off by up to "
            f"{near_deg:.0f}°."
        )
    return sentences
