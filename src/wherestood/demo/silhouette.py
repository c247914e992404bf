"""Solve where land meets sky by ray casts alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.demo.camera_truth import CameraTruth
from wherestood.demo.mesh import RayMesh

__all__ = ["Silhouette", "elevation_profile", "picture_skyline"]

Array = NDArray[np.float64]
_LandTest = Callable[[Array], NDArray[np.bool_]]

_PRECISION_PX = 0.02
_STEEPEST_TANGENT = 1.7  # a horizon above 60 deg is a wall, not a view


@dataclass(frozen=True)
class Silhouette:
    """Hold the line of land and sky.

    Attributes
    ----------
    where : (n,) float64 array
        Pixel row of the line, or tangent of its elevation; NaN where there is
        none.
    distance_m : (n,) float64 array
        Horizontal distance to the land that makes it [m]; NaN likewise.
    """

    where: Array
    distance_m: Array


def elevation_profile(
    mesh: RayMesh, eye_m: Array, bearing_deg: Array, *, steps: int = 16
) -> Silhouette:
    """Find the horizon's elevation tangent towards grid bearings.

    Over a height grid, a ray below one that meets the ground meets it too, so
    halving the interval is exact, to ``3.4 / 2**steps`` in the tangent.
    """
    bearing = np.radians(bearing_deg)
    flat = np.stack([np.sin(bearing), np.cos(bearing)], axis=-1)
    low = np.full(len(flat), -_STEEPEST_TANGENT)
    high = np.full(len(flat), _STEEPEST_TANGENT)
    for _ in range(steps):
        middle = (low + high) / 2.0
        hidden = mesh.hidden(eye_m, np.column_stack([flat, middle]))
        low, high = np.where(hidden, middle, low), np.where(hidden, high, middle)
    hits = mesh.first_hits(eye_m, np.column_stack([flat, low]))
    distance_m = np.where(np.isfinite(hits.distance_m), hits.distance_m, np.nan)
    return Silhouette((low + high) / 2.0, distance_m)


def picture_skyline(
    mesh: RayMesh, eye_m: Array, camera: CameraTruth, x_px: Array
) -> Silhouette:
    """Find the highest land in each picture column, in pixels from the top.

    Parameters
    ----------
    mesh : RayMesh
        The true world.
    eye_m : (3,) array
        East, north, height of the lens [m].
    camera : CameraTruth
        The true camera.
    x_px : (n,) float64 array
        Column positions [px].

    Returns
    -------
    Silhouette
        Rows [px], good to 0.02 px; NaN where sky reaches the bottom edge or
        land the top edge.
    """
    top = np.zeros(len(x_px))
    bottom = np.full(len(x_px), float(camera.height_px))

    def land(rows_px: Array) -> NDArray[np.bool_]:
        return mesh.hidden(eye_m, camera.rays(x_px, rows_px))

    has_edge = ~land(top) & land(bottom)
    rows_px = _halve(land, top, bottom)
    rows_px = np.where(has_edge, _climb_over_spikes(land, rows_px), rows_px)
    below = camera.rays(x_px, rows_px + 2 * _PRECISION_PX)
    hits = mesh.first_hits(eye_m, below)
    has_edge &= np.isfinite(hits.distance_m)
    return Silhouette(
        np.where(has_edge, rows_px, np.nan),
        np.where(has_edge, hits.distance_m, np.nan),
    )


def _halve(land: _LandTest, sky_px: Array, land_px: Array) -> Array:
    """Halve between rows in the sky and rows on land until they meet."""
    span_px = max(float(np.max(land_px - sky_px)), 2 * _PRECISION_PX)
    for _ in range(int(np.ceil(np.log2(span_px / _PRECISION_PX)))):
        middle = (sky_px + land_px) / 2.0
        hit = land(middle)
        land_px, sky_px = np.where(hit, middle, land_px), np.where(hit, sky_px, middle)
    return (sky_px + land_px) / 2.0


def _climb_over_spikes(land: _LandTest, rows_px: Array) -> Array:
    """Go on upward where land shows again above the line found.

    A column of a rolled plate is not plumb, so a steep edge may cross it more
    than once; the topmost crossing counts.
    """
    for above_px in (0.5, 1.0, 2.0, 4.0, 8.0, 16.0):
        probe = np.maximum(rows_px - above_px, 0.0)
        again = land(probe)
        if again.any():
            ceiling = np.maximum(probe - 32.0, 0.0)
            climbed = _halve(land, ceiling, probe)
            rows_px = np.where(again, climbed, rows_px)
    return rows_px
