"""Hold the ground that invented worlds are made from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib import cbook
from numpy.typing import NDArray
from scipy import ndimage

__all__ = ["GroundGrid", "jacksboro", "mean_radius_m"]

_SEMI_MAJOR_M = 6378137.0  # WGS 84
_ECCENTRICITY_SQUARED = 0.00669437999014  # WGS 84


def mean_radius_m(latitude_deg: float) -> float:
    """Return the Gaussian mean radius of curvature of WGS 84 [m]."""
    sine = np.sin(np.radians(latitude_deg))
    flattened = 1.0 - _ECCENTRICITY_SQUARED
    curved = 1.0 - _ECCENTRICITY_SQUARED * sine**2
    return float(_SEMI_MAJOR_M * np.sqrt(flattened) / curved)


@dataclass(frozen=True)
class GroundGrid:
    """Hold bare ground at the nodes of a square grid, row 0 the southernmost.

    Attributes
    ----------
    elevation_m : (rows, columns) float32 array
        Heights [m], no NaN.
    west_m, south_m : float
        Frame coordinates of node ``[0, 0]`` [m].
    cell_m : float
        Node spacing [m].
    latitude_deg, longitude_deg : float
        Where the grid lies, WGS 84 [deg]; latitude sets the earth's radius.
    name : str
        What to call it.
    water_level_m : float or None
        Level of the water, if any: no ground lies lower and nothing grows on it.
    """

    elevation_m: NDArray[np.float32]
    west_m: float
    south_m: float
    cell_m: float
    latitude_deg: float = 40.0
    longitude_deg: float = 0.0
    name: str = "ground"
    water_level_m: float | None = None

    @property
    def width_m(self) -> float:
        """West-east extent between outer nodes [m]."""
        return float((self.elevation_m.shape[1] - 1) * self.cell_m)

    @property
    def depth_m(self) -> float:
        """South-north extent between outer nodes [m]."""
        return float((self.elevation_m.shape[0] - 1) * self.cell_m)


def jacksboro(cell_m: float = 90.0) -> GroundGrid:
    """Return the real elevation sample that ships with matplotlib.

    Notes
    -----
    ``jacksboro_fault_dem.npz``: SRTM 3 arc-second heights (NASA, public domain)
    around the Jacksboro fault, Tennessee; 36.45 to 36.73 N. Brought from
    degrees to a square metric grid by cubic interpolation, each parallel
    spaced by its length at the middle latitude (the east-west scale errs by
    at most 0.2 % at the edges).
    """
    path = cbook.get_sample_data("jacksboro_fault_dem.npz", asfileobj=False)
    with np.load(str(path)) as sample:
        elevation = np.asarray(sample["elevation"], dtype=np.float64)[::-1]
        d_lon_deg, d_lat_deg = float(sample["dx"]), float(sample["dy"])
        lat_deg = float(sample["ymin"] + sample["ymax"]) / 2.0
        lon_deg = float(sample["xmin"] + sample["xmax"]) / 2.0
    radius_m = mean_radius_m(lat_deg)
    north_step_m = radius_m * np.radians(d_lat_deg)
    east_step_m = radius_m * np.radians(d_lon_deg) * np.cos(np.radians(lat_deg))
    rows = np.arange(0.0, elevation.shape[0] - 1, cell_m / north_step_m)
    columns = np.arange(0.0, elevation.shape[1] - 1, cell_m / east_step_m)
    squared = ndimage.map_coordinates(
        elevation, np.meshgrid(rows, columns, indexing="ij"), order=3, mode="nearest"
    )
    half_width_m = (columns.size - 1) * cell_m / 2.0
    half_depth_m = (rows.size - 1) * cell_m / 2.0
    return GroundGrid(
        squared.astype(np.float32),
        -half_width_m,
        -half_depth_m,
        cell_m,
        lat_deg,
        lon_deg,
        "jacksboro",
    )
