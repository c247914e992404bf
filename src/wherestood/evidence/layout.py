"""Lay a line or an area out as points that each may be what is seen."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from wherestood.earth.frame import Frame

__all__ = ["geometry_in_frame", "laid_out"]

Array = NDArray[np.float64]

#: A line or area is laid out as no more points than this.
MOST_POINTS = 24
#: Longer edges are cut before they are projected [deg].
_STEP_DEG = 0.005


def geometry_in_frame(geometry: BaseGeometry, frame: Frame) -> BaseGeometry:
    """Return a geometry in frame metres, long edges bent as they should be."""

    def project(points: Array) -> Array:
        return np.column_stack(frame.from_lonlat(points[:, 0], points[:, 1]))

    fine = shapely.segmentize(geometry, _STEP_DEG)
    projected: BaseGeometry = shapely.transform(fine, project)
    return projected


def laid_out(shape: BaseGeometry, sd_m: float) -> tuple[Array, Array, float]:
    """Return points over a shape, their weights, and how far apart they are.

    Parameters
    ----------
    shape : shapely geometry
        A point, a line or an area, frame metres.
    sd_m : float
        Standard error of the feature: points need lie no closer [m].

    Returns
    -------
    points : (n, 2) float64 array
        East and north [m]; 24 at most, a few more of lines in many pieces.
    weight : (n,) float64 array
        Share of the length or area that each stands for.
    step_m : float
        Distance between neighbours, 0 of a point [m].
    """
    if shape.geom_type == "Point":
        return shapely.get_coordinates(shape), np.ones(1), 0.0
    if shape.length == 0.0:
        return shapely.get_coordinates(shape)[:1], np.ones(1), 0.0
    if "Line" in shape.geom_type:
        count = int(np.clip(np.ceil(shape.length / sd_m), 1, MOST_POINTS))
        return _along(shape, count)
    return _over(shape, sd_m)


def _along(shape: BaseGeometry, count: int) -> tuple[Array, Array, float]:
    """Return the middles of equal stretches of a line, or of several lines."""
    lines = list(getattr(shape, "geoms", [shape]))
    points, weights, longest = [], [], 0.0
    for line in lines:
        own = max(1, round(count * line.length / shape.length))
        at = (np.arange(own) + 0.5) / own
        placed = shapely.line_interpolate_point(line, at, normalized=True)
        points.append(shapely.get_coordinates(placed))
        weights.append(np.full(own, line.length / shape.length / own))
        longest = max(longest, line.length / own)
    return np.concatenate(points), np.concatenate(weights), longest


def _over(shape: BaseGeometry, sd_m: float) -> tuple[Array, Array, float]:
    """Return the middles of squares that cover an area."""
    step_m = max(sd_m, float(np.sqrt(shape.area / MOST_POINTS)))
    west, south, east, north = shape.bounds
    across = np.arange(west + step_m / 2.0, east, step_m)
    up = np.arange(south + step_m / 2.0, north, step_m)
    grid = np.column_stack([part.ravel() for part in np.meshgrid(across, up)])
    inside = grid[shapely.contains_xy(shape, grid[:, 0], grid[:, 1])]
    if len(inside) == 0:
        # Narrower than a step: some point of it, as doubtful as it is long.
        middle = shapely.get_coordinates(shape.representative_point())
        return middle, np.ones(1), float(max(east - west, north - south))
    return inside, np.full(len(inside), 1.0 / len(inside)), step_m
