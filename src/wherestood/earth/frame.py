"""Convert between longitude and latitude and a local metric grid."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pyproj
from numpy.typing import NDArray

__all__ = ["Frame"]


@dataclass(frozen=True)
class Frame:
    """Be a conformal grid whose metres are ground metres at its centre.

    Frame coordinates are the projected coordinates of ``crs`` divided by the
    point scale at the centre, so that distances are true there and good to
    about 1e-4 within the reach of a horizon.

    Attributes
    ----------
    crs : str
        A projected, conformal CRS in metres, axis order east, north.
    scale : float
        Point scale factor of ``crs`` at the centre.
    centre_lon_deg, centre_lat_deg : float
        Centre, WGS 84 [deg].
    """

    crs: str
    scale: float
    centre_lon_deg: float
    centre_lat_deg: float

    @classmethod
    def local(cls, lon_deg: float, lat_deg: float) -> Frame:
        """Make a transverse Mercator grid of scale 1 centred on a point."""
        crs = (
            f"+proj=tmerc +k=1 +lat_0={lat_deg:.8f} +lon_0={lon_deg:.8f} "
            "+x_0=0 +y_0=0 +ellps=WGS84 +units=m +no_defs"
        )
        return cls(crs, 1.0, lon_deg, lat_deg)

    @classmethod
    def on_crs(cls, crs: str, lon_deg: float, lat_deg: float) -> Frame:
        """Take a conformal projected CRS as the grid, true to scale at a point."""
        factors = pyproj.Proj(crs).get_factors(lon_deg, lat_deg)
        return cls(crs, float(factors.meridional_scale), lon_deg, lat_deg)

    @cached_property
    def _from_lonlat(self) -> pyproj.Transformer:
        return pyproj.Transformer.from_crs(
            4326, self.crs, always_xy=True, allow_ballpark=False
        )

    @cached_property
    def _projection(self) -> pyproj.Proj:
        return pyproj.Proj(self.crs)

    def from_lonlat(
        self, lon_deg: NDArray[np.float64], lat_deg: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return frame east and north [m] of WGS 84 points [deg]."""
        east, north = self._from_lonlat.transform(lon_deg, lat_deg)
        return np.asarray(east) / self.scale, np.asarray(north) / self.scale

    def to_lonlat(
        self, east_m: NDArray[np.float64], north_m: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return WGS 84 longitude and latitude [deg] of frame points [m]."""
        lon, lat = self._from_lonlat.transform(
            np.asarray(east_m) * self.scale,
            np.asarray(north_m) * self.scale,
            direction="INVERSE",
        )
        return np.asarray(lon), np.asarray(lat)

    def convergence_deg(self, lon_deg: float, lat_deg: float) -> float:
        """Return grid convergence [deg]: add it to a grid bearing for a true one."""
        return float(self._projection.get_factors(lon_deg, lat_deg).meridian_convergence)
