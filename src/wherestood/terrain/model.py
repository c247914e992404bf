"""Hold an elevation model as the program uses it.

Frame and pixel rules are in ``docs/conventions.md``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wherestood.earth.frame import Frame

__all__ = ["SourceRecord", "Surface", "Terrain"]

Surface = Literal["ground", "top", "unknown"]


@dataclass(frozen=True)
class SourceRecord:
    """Say where one elevation file came from.

    Attributes
    ----------
    path : str
        File name as given.
    crs : str
        Coordinate reference system as an authority code or WKT.
    cell_m : float
        Cell size on the ground [m].
    vertical_datum : str
        Name of the vertical datum, ``"unknown"`` where the file does not say.
    sha256 : str
        Checksum of the file, hexadecimal.
    notes : tuple of str
        What was found and done on intake (units, voids, seams), in plain words.
    """

    path: str
    crs: str
    cell_m: float
    vertical_datum: str
    sha256: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Terrain:
    """Hold heights at the nodes of a square grid in a local frame.

    The surface between nodes is bilinear. Node ``[row, column]`` lies at
    ``east = west_m + column * cell_m``, ``north = south_m + row * cell_m``:
    row 0 is the *southernmost*.

    Attributes
    ----------
    elevation_m : (rows, columns) float32 array
        Heights [m]; NaN where unknown.
    west_m, south_m : float
        Frame coordinates of node ``[0, 0]`` [m].
    cell_m : float
        Node spacing [m].
    frame : Frame
        The grid the coordinates live in.
    surface : {"ground", "top", "unknown"}
        Whether heights are of bare ground, of tree and roof tops, or not known.
    source_cell_m : float
        Cell size of the finest source before any resampling [m].
    refraction : float
        Refraction coefficient k, dimensionless.
    water : (rows, columns) bool array or None
        True on nodes known as sea.
    sources : tuple of SourceRecord
        One per file read.
    """

    elevation_m: NDArray[np.float32]
    west_m: float
    south_m: float
    cell_m: float
    frame: Frame
    surface: Surface = "unknown"
    source_cell_m: float = 0.0
    refraction: float = 0.13
    water: NDArray[np.bool_] | None = None
    sources: tuple[SourceRecord, ...] = ()

    @classmethod
    def open(
        cls,
        paths: Sequence[Path | str] | Path | str,
        *,
        around: tuple[float, float] | None = None,
        radius_m: float | None = None,
        surface: Surface = "unknown",
        refraction: float = 0.13,
    ) -> Terrain:
        """Open one or several elevation files.

        See :func:`wherestood.terrain.read.open_terrain`.

        Parameters
        ----------
        paths : path, str or a sequence of them
            Rasters, folders of rasters, zips of either.
        around : (lon, lat), optional
            Centre of the ground needed [deg]; all that the files cover if left out.
        radius_m : float, optional
            How far from the centre the ground is needed [m].
        surface : {"ground", "top", "unknown"}
            What the heights are of.
        refraction : float
            Refraction coefficient k, no unit.

        Returns
        -------
        Terrain
            Heights on one square grid.
        """
        # The reader builds on this module, so it can only be named when asked for.
        from wherestood.terrain.read import open_terrain

        return open_terrain(
            paths,
            around=around,
            radius_m=radius_m,
            surface=surface,
            refraction=refraction,
        )
