"""Describe the tiles of a base map, level by level.

Sources: the tiles of ``{z}/{x}/{y}`` are those of web maps everywhere, 256 pixels, the
whole world in one at level 0 (common practice); OGC 07-057r7, *Web Map Tile Service
Implementation Standard* 1.0.0, annex E.4 gives the same as GoogleMapsCompatible.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from urllib.parse import quote

__all__ = ["HALF_WORLD_M", "Level", "Pyramid", "xyz_pyramid"]

#: Half of the equator on the sphere of EPSG:3857 [m].
HALF_WORLD_M = math.pi * 6_378_137.0
_FINEST = 19
_XYZ_PX = 256


@dataclass(frozen=True)
class Level:
    """Be one level of tiles.

    Attributes
    ----------
    name : str
        What it is called by in addresses.
    resolution_m : float
        Metres of EPSG:3857 a pixel [m].
    west_m, north_m : float
        The corner from which tiles are counted [m].
    tile_px : int
        Side of a tile [px].
    columns, rows : int
        How many there are.
    """

    name: str
    resolution_m: float
    west_m: float
    north_m: float
    tile_px: int
    columns: int
    rows: int


@dataclass(frozen=True)
class Pyramid:
    """Be all tiles of a base map.

    Attributes
    ----------
    template : str
        Their address, with {z}, {x} and {y}.
    levels : tuple of Level
        The coarsest first.
    """

    template: str
    levels: tuple[Level, ...]

    def level_for(self, resolution_m: float) -> Level:
        """Return the coarsest level that is as fine as wanted, else the finest."""
        fine = [one for one in self.levels if one.resolution_m <= resolution_m * 1.2]
        return fine[0] if fine else self.levels[-1]

    def address(self, level: Level, column: int, row: int) -> str:
        """Return the address of a tile."""
        values = {"z": quote(level.name, safe=""), "x": str(column), "y": str(row)}
        filled = self.template
        for name, value in values.items():
            filled = filled.replace("{" + name + "}", value)
        return filled


def xyz_pyramid(template: str) -> Pyramid:
    """Return the tiles of an address with {z}, {x} and {y}."""
    return Pyramid(
        template,
        tuple(
            Level(
                str(zoom),
                2.0 * HALF_WORLD_M / (_XYZ_PX * 2**zoom),
                -HALF_WORLD_M,
                HALF_WORLD_M,
                _XYZ_PX,
                2**zoom,
                2**zoom,
            )
            for zoom in range(_FINEST + 1)
        ),
    )
