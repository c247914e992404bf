"""Cast rays onto a triangulated ground on a round earth with bent light.

Light over a round earth follows, to second order, straight lines over ground
lowered by ``kappa * d**2`` at distance ``d`` from the eye, with
``kappa = (1 - k) / (2 R)``. The lowering depends on the eye, but a mesh lowered
once about the origin serves every eye: for a vertex ``p`` and an eye ``s``
(horizontal vectors)::

    kappa |p - s|^2 = kappa |p|^2 - 2 kappa p.s + kappa |s|^2

differs from ``kappa |p|^2`` by a term linear in ``p``, a shear, which takes
straight lines to straight lines. So a ray of slope ``m`` over the earth of the
eye is a ray of slope ``m - 2 kappa s.e`` in the mesh, ``e`` the unit horizontal
direction. This is exact, not an approximation of the above.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

__all__ = ["Hits", "RayMesh"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Hits:
    """Hold where rays met the ground first.

    Attributes
    ----------
    distance_m : (n,) float64 array
        Horizontal distance from the eye [m]; infinite where nothing was met.
    east_m, north_m : (n,) float64 array
        Where, in grid coordinates [m]; NaN where nothing was met.
    """

    distance_m: Array
    east_m: Array
    north_m: Array


class RayMesh:
    """Be a height grid cut into triangles, ready for ray casts.

    Parameters
    ----------
    height_m : (rows, columns) array
        Heights [m], row 0 the southernmost.
    west_m, south_m, cell_m : float
        Position of node ``[0, 0]`` and node spacing [m].
    radius_m : float
        Radius of the earth [m].
    refraction : float
        Refraction coefficient k, dimensionless.
    """

    def __init__(
        self,
        height_m: NDArray[np.floating],
        west_m: float,
        south_m: float,
        cell_m: float,
        *,
        radius_m: float,
        refraction: float,
    ) -> None:
        rows, columns = height_m.shape
        # Centred coordinates keep single precision at a millimetre or so.
        self._middle_east_m = west_m + (columns - 1) * cell_m / 2.0
        self._middle_north_m = south_m + (rows - 1) * cell_m / 2.0
        self.kappa = (1.0 - refraction) / (2.0 * radius_m)
        self.top_m = float(np.max(height_m))
        east_m = west_m + np.arange(columns) * cell_m - self._middle_east_m
        north_m = south_m + np.arange(rows) * cell_m - self._middle_north_m
        self._scene = EmbreeScene(robust=True)
        vertices = _vertices(height_m, east_m, north_m, self.kappa)
        self._mesh = TriangleMesh(self._scene, vertices, _triangles(rows, columns))

    def surface_m(self, east_m: Array, north_m: Array) -> Array:
        """Return the height of the triangulated surface at points [m]."""
        x_m, y_m = east_m - self._middle_east_m, north_m - self._middle_north_m
        start_m = self.top_m + 100.0
        origins = np.stack([x_m, y_m, np.full_like(x_m, start_m)], axis=-1)
        down = np.broadcast_to(np.array([0.0, 0.0, -1.0]), origins.shape)
        result = self._run(origins, down)
        height_m = start_m - result["tfar"] + self.kappa * (x_m**2 + y_m**2)
        return np.where(result["primID"] >= 0, height_m, np.nan)

    def hidden(self, eye_m: Array, rays: Array) -> NDArray[np.bool_]:
        """Tell which rays meet the ground.

        Parameters
        ----------
        eye_m : (3,) or (n, 3) array
            East, north, height of the eye, or of each ray's own start [m].
        rays : (n, 3) array
            Directions in east, north, up; length does not matter.
        """
        origins, directions = self._into_mesh(eye_m, rays)
        answer = self._scene.run(origins, directions, query="OCCLUDED")
        return np.asarray(answer) >= 0

    def first_hits(self, eye_m: Array, rays: Array) -> Hits:
        """Find where rays meet the ground first; arguments as in `hidden`."""
        origins, directions = self._into_mesh(eye_m, rays)
        result = self._run(origins, directions)
        missed = result["primID"] < 0
        along = np.where(missed, np.inf, result["tfar"].astype(np.float64))
        reach = np.where(missed, np.nan, along)
        start_m = np.asarray(eye_m)
        flat = np.asarray(directions, dtype=np.float64)
        return Hits(
            np.where(missed, np.inf, along * np.hypot(flat[:, 0], flat[:, 1])),
            start_m[..., 0] + reach * flat[:, 0],
            start_m[..., 1] + reach * flat[:, 1],
        )

    def _run(
        self, origins: NDArray[np.floating], directions: NDArray[np.floating]
    ) -> dict[str, NDArray[np.floating]]:
        result: dict[str, NDArray[np.floating]] = self._scene.run(
            np.ascontiguousarray(origins, dtype=np.float32),
            np.ascontiguousarray(directions, dtype=np.float32),
            output=True,
        )
        return result

    def _into_mesh(
        self, eye_m: Array, rays: Array
    ) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Shear rays of an eye into the mesh's own lowering."""
        start_m = np.asarray(eye_m, dtype=np.float64)
        x_m = start_m[..., 0] - self._middle_east_m
        y_m = start_m[..., 1] - self._middle_north_m
        z_m = start_m[..., 2] - self.kappa * (x_m**2 + y_m**2)
        directions = np.array(rays, dtype=np.float64)
        directions[:, 2] -= (
            2.0 * self.kappa * (x_m * directions[:, 0] + y_m * directions[:, 1])
        )
        origins = np.empty((len(directions), 3), dtype=np.float32)
        origins[:] = np.stack([x_m, y_m, z_m], axis=-1)
        return origins, np.ascontiguousarray(directions, dtype=np.float32)


def _vertices(
    height_m: NDArray[np.floating], east_m: Array, north_m: Array, kappa: float
) -> NDArray[np.float32]:
    """Return lowered vertices, a row each."""
    vertices = np.empty((*height_m.shape, 3), dtype=np.float32)
    vertices[..., 0] = east_m[None, :]
    vertices[..., 1] = north_m[:, None]
    drop_m = kappa * (east_m[None, :] ** 2 + north_m[:, None] ** 2)
    vertices[..., 2] = height_m - drop_m
    return vertices.reshape(-1, 3)


def _triangles(rows: int, columns: int) -> NDArray[np.int32]:
    """Cut each cell along its south-west to north-east diagonal."""
    index = np.arange(rows * columns, dtype=np.int32).reshape(rows, columns)
    south_west, south_east = index[:-1, :-1].ravel(), index[:-1, 1:].ravel()
    north_west, north_east = index[1:, :-1].ravel(), index[1:, 1:].ravel()
    lower = np.stack([south_west, south_east, north_east], axis=1)
    upper = np.stack([south_west, north_east, north_west], axis=1)
    return np.concatenate([lower, upper])
