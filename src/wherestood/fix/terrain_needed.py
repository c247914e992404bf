"""Say which elevation data a ground searched needs: where, and how fine."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyproj
import shapely

from wherestood.earth.frame import Frame
from wherestood.errors import AreaError
from wherestood.fix.area import Area
from wherestood.fix.search import RING_SHARE

__all__ = ["Rectangle", "TerrainNeeded", "terrain_needed", "uncovered"]

USUAL_HORIZON_M = 30_000.0
# How much of the distance asked for one cell may be, so that the ground itself can
# tell two stations that far apart: common practice in sampling is two to five.
_CELLS_IN_NEAR_ENOUGH = 5.0
# Finer than this the ground of today differs from that of the plate; coarser than
# that crests are planed off (docs/elevation.md).
_FINEST_M, _COARSEST_M = 1.0, 30.0
# Ground so near decides most of what a station sees of its own surroundings; beyond,
# a cell of 30 m is under 0.6 degrees.
_NEAR_M = 3_000.0
_STEPS_OF_CELL_M = (1.0, 2.0, 5.0, 10.0, 25.0, 30.0)
_BYTES_A_NODE = 4.0
_ROUNDED_DEG = 0.001
_EDGE_NODES = 33


@dataclass(frozen=True)
class Rectangle:
    """Hold a rectangle of ground.

    Attributes
    ----------
    west_deg, south_deg, east_deg, north_deg : float
        Its edges, WGS 84, rounded outwards to 0.001 deg [deg].
    grid : str
        The zone of the universal grid it lies in, as an EPSG code.
    west_m, south_m, east_m, north_m : float
        The same ground in that grid, rounded outwards to 100 m [m].
    width_m, height_m : float
        Its sides on the ground, in the middle [m].
    """

    west_deg: float
    south_deg: float
    east_deg: float
    north_deg: float
    grid: str
    west_m: float
    south_m: float
    east_m: float
    north_m: float
    width_m: float
    height_m: float

    def box(self) -> shapely.Polygon:
        """Return it as a polygon in longitude and latitude [deg]."""
        return shapely.box(self.west_deg, self.south_deg, self.east_deg, self.north_deg)

    def as_json(self) -> dict[str, Any]:
        """Return it as a JSON record."""
        return {
            "west_deg": self.west_deg,
            "south_deg": self.south_deg,
            "east_deg": self.east_deg,
            "north_deg": self.north_deg,
            "grid": self.grid,
            "west_m": self.west_m,
            "south_m": self.south_m,
            "east_m": self.east_m,
            "north_m": self.north_m,
            "width_m": round(self.width_m),
            "height_m": round(self.height_m),
        }


@dataclass(frozen=True)
class TerrainNeeded:
    """Hold what elevation data a search needs.

    Attributes
    ----------
    near, far : Rectangle
        The ground searched with its ring and what surrounds it; and all hills that
        may show.
    near_cell_m, far_cell_m : float
        Largest cells that serve there [m].
    near_bytes, far_bytes : float
        Roughly how much data that is, not packed.
    degree_squares : tuple of str
        Names of the squares of one degree that the far rectangle touches, by their
        south-west corners, as many models are cut: ``N46E008``.
    """

    near: Rectangle
    far: Rectangle
    near_cell_m: float
    far_cell_m: float
    near_bytes: float
    far_bytes: float
    degree_squares: tuple[str, ...]


def terrain_needed(
    area: Area, near_enough_m: float, horizon_m: float = USUAL_HORIZON_M
) -> TerrainNeeded:
    """Say which elevation data a ground searched needs.

    Parameters
    ----------
    area : Area
        The ground searched.
    near_enough_m : float
        How close the answer must be [m].
    horizon_m : float
        How far away land is looked for [m].

    Raises
    ------
    AreaError
        If a distance is not above 0, or the rectangle would reach a pole.

    Notes
    -----
    Near the station the cell is a fifth of `near_enough_m`, between 1 and 30 m,
    rounded down to a size that models come in; farther off 30 m serves.
    """
    for name, length in (("near enough", near_enough_m), ("horizon", horizon_m)):
        if not 0.0 < length < math.inf:
            raise AreaError(
                f"The distance '{name}' is {length:g} m; it must be above 0.",
                "Give it in metres.",
            )
    frame = Frame.local(*area.centre)
    shape = area.in_frame(frame)
    # The ring round the ground searched has half its area again (fix/search.py).
    ring_m = RING_SHARE * shape.area / shape.length
    near = _rectangle(frame, shape.buffer(ring_m + _NEAR_M).bounds)
    far = _rectangle(frame, shape.buffer(ring_m + max(horizon_m, _NEAR_M)).bounds)
    wanted = min(max(near_enough_m / _CELLS_IN_NEAR_ENOUGH, _FINEST_M), _COARSEST_M)
    near_cell = max(step for step in _STEPS_OF_CELL_M if step <= wanted)
    return TerrainNeeded(
        near,
        far,
        near_cell,
        _COARSEST_M,
        _size(near, near_cell),
        _size(far, _COARSEST_M),
        _degree_squares(far),
    )


def uncovered(needed: Rectangle, boxes: Sequence[shapely.Polygon]) -> float:
    """Return the share of a rectangle that no box covers, 0 to 1."""
    whole = needed.box()
    held = shapely.union_all([shapely.intersection(whole, box) for box in boxes])
    return float(1.0 - held.area / whole.area)


def _size(rectangle: Rectangle, cell_m: float) -> float:
    return rectangle.width_m * rectangle.height_m / cell_m**2 * _BYTES_A_NODE


def _rectangle(frame: Frame, bounds: tuple[float, float, float, float]) -> Rectangle:
    west, south, east, north = bounds
    share = np.linspace(0.0, 1.0, _EDGE_NODES)
    across, up = west + share * (east - west), south + share * (north - south)
    edge_east = np.concatenate(
        [across, across, np.full_like(up, west), np.full_like(up, east)]
    )
    edge_north = np.concatenate(
        [np.full_like(across, south), np.full_like(across, north), up, up]
    )
    lon, lat = frame.to_lonlat(edge_east, edge_north)
    if not (np.isfinite(lon).all() and np.abs(lat).max() < 89.0):
        raise AreaError(
            "The ground that may show reaches a pole.", "Choose a nearer horizon."
        )
    middle = frame.centre_lon_deg
    lon = middle + (lon - middle + 180.0) % 360.0 - 180.0
    zone = int((middle + 180.0) % 360.0 // 6.0) + 1
    grid = f"EPSG:{(32600 if frame.centre_lat_deg >= 0.0 else 32700) + zone}"
    to_grid = pyproj.Transformer.from_crs("EPSG:4326", grid, always_xy=True)
    x, y = (np.asarray(v) for v in to_grid.transform(lon, lat))
    return Rectangle(
        round(_down(float(lon.min()), _ROUNDED_DEG), 3),
        round(_down(float(lat.min()), _ROUNDED_DEG), 3),
        round(-_down(-float(lon.max()), _ROUNDED_DEG), 3),
        round(-_down(-float(lat.max()), _ROUNDED_DEG), 3),
        grid,
        _down(float(x.min()), 100.0),
        _down(float(y.min()), 100.0),
        -_down(-float(x.max()), 100.0),
        -_down(-float(y.max()), 100.0),
        east - west,
        north - south,
    )


def _down(value: float, step: float) -> float:
    """Round down to a whole number of steps, rounding errors aside."""
    return math.floor(value / step + 1e-9) * step


def _degree_squares(rectangle: Rectangle) -> tuple[str, ...]:
    names = []
    for lat in range(math.floor(rectangle.south_deg), math.ceil(rectangle.north_deg)):
        for lon in range(math.floor(rectangle.west_deg), math.ceil(rectangle.east_deg)):
            east = (lon + 180) % 360 - 180
            ns, ew = "NS"[lat < 0], "EW"[east < 0]
            names.append(f"{ns}{abs(lat):02d}{ew}{abs(east):03d}")
    return tuple(names)
