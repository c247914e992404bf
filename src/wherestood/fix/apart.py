"""Measure how far an item that needs no camera is from agreeing at a station."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from wherestood.evidence.camera_free import CameraFree
from wherestood.evidence.directions import directions
from wherestood.evidence.in_line import pair_weights, read_in_line
from wherestood.evidence.items import InLine, Item, KnownDistance, Order, Statement
from wherestood.evidence.items.reference import id_of
from wherestood.evidence.stations import Stations
from wherestood.evidence.weighed import turned

__all__ = ["apart_deg", "apart_m"]

Array = NDArray[np.float64]


def apart_deg(item: Item, free: CameraFree, station: Stations) -> float | None:
    """Return by how many degrees an in line or an order is off [deg].

    Parameters
    ----------
    item : Item
        Any; None is returned for what is not measured in degrees.
    free : CameraFree
        Where features and marks are, and what is believed of the camera.
    station : Stations
        One station.

    Returns
    -------
    float or None
        Of an in line, how much farther left A was read than it stands from there;
        of an order, how far the first stands left of (above) the second, negative
        where it is the other way round. Of things that may be at several points, the
        pair that agrees best.
    """
    if isinstance(item, InLine):
        off = read_in_line(item, free.placement, free.lean).left_rad - _bearings(
            item.speaks_of(), free, station
        )
        return _nearest_deg(item.speaks_of(), free, turned(off))
    if isinstance(item, Order) and item.sideways:
        pair = (id_of(item.first), id_of(item.second))
        return _greatest_deg(pair, free, turned(_bearings(pair, free, station)))
    return None


def apart_m(item: Item, free: CameraFree, station: Stations) -> float | None:
    """Return by how many metres a distance or a statement is off [m].

    Returns
    -------
    float or None
        Of a known distance, how much farther it was said to be than it is; of a
        statement, how far the station lies outside what it means. None for others.
    """
    if isinstance(item, KnownDistance):
        points = free.placement.candidates(item.speaks_of()[0])
        off = item.distance_m - directions(station, points).distance_m[0]
        return float(off[np.argmin(np.abs(off))])
    if isinstance(item, Statement):
        here = shapely.Point(float(station.east_m[0]), float(station.north_m[0]))
        return float(shapely.distance(free.areas[item.id], here))
    return None


def _bearings(pair: tuple[str, ...], free: CameraFree, station: Stations) -> Array:
    """Return by how much each point of the second lies right of each of the first."""
    first, second = (
        directions(station, free.placement.candidates(name)).azimuth_rad[0]
        for name in pair
    )
    return np.asarray(second[None, :] - first[:, None])


def _possible(pair: tuple[str, ...], free: CameraFree) -> NDArray[np.bool_]:
    first, second = (free.placement.candidates(name) for name in pair)
    return np.asarray(pair_weights(first, second) > 0.0)


def _nearest_deg(pair: tuple[str, ...], free: CameraFree, off: Array) -> float | None:
    left = off[_possible(pair, free)]
    return math.degrees(left[np.argmin(np.abs(left))]) if left.size else None


def _greatest_deg(pair: tuple[str, ...], free: CameraFree, off: Array) -> float | None:
    left = off[_possible(pair, free)]
    return math.degrees(float(left.max())) if left.size else None
