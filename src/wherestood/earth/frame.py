"""Convert between longitude and latitude and a local metric grid."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pyproj
from numpy.typing import NDArray

from wherestood.earth.datum import find_datum_shift

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
        # The datum is named, not only the ellipsoid: otherwise PROJ knows of
        # nothing but a ballpark transformation.
        crs = (
            f"+proj=tmerc +k=1 +lat_0={lat_deg:.8f} +lon_0={lon_deg:.8f} "
            "+x_0=0 +y_0=0 +datum=WGS84 +units=m +no_defs"
        )
        return cls(crs, 1.0, lon_deg, lat_deg)

    @classmethod
    def on_crs(cls, crs: str, lon_deg: float, lat_deg: float) -> Frame:
        """Take a conformal projected CRS as the grid, true to scale at a point."""
        unscaled = cls(crs, 1.0, lon_deg, lat_deg)
        return cls(crs, unscaled.point_scale(lon_deg, lat_deg), lon_deg, lat_deg)

    @cached_property
    def _from_lonlat(self) -> pyproj.Transformer:
        return find_datum_shift(
            self.crs, self.centre_lon_deg, self.centre_lat_deg
        ).transformer

    @cached_property
    def _projection(self) -> pyproj.Proj:
        return pyproj.Proj(self.crs)

    def from_lonlat(
        self, lon_deg: NDArray[np.float64], lat_deg: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return frame east and north [m] of WGS 84 points [deg].

        Points that the projection cannot hold come back as infinity.
        """
        east, north = self._from_lonlat.transform(lon_deg, lat_deg)
        return np.asarray(east) / self.scale, np.asarray(north) / self.scale

    def to_lonlat(
        self, east_m: NDArray[np.float64], north_m: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return WGS 84 longitude and latitude [deg] of frame points [m].

        Points that the projection cannot hold come back as infinity.
        """
        lon, lat = self._from_lonlat.transform(
            np.asarray(east_m) * self.scale,
            np.asarray(north_m) * self.scale,
            direction="INVERSE",
        )
        return np.asarray(lon), np.asarray(lat)

    def convergence_deg(self, lon_deg: float, lat_deg: float) -> float:
        """Return grid convergence [deg]: add it to a grid bearing for a true one."""
        factors = self._projection.get_factors(*self._own_lonlat(lon_deg, lat_deg))
        return float(factors.meridian_convergence)

    def point_scale(self, lon_deg: float, lat_deg: float) -> float:
        """Return grid length over ground length of ``crs`` at a point, no unit."""
        factors = self._projection.get_factors(*self._own_lonlat(lon_deg, lat_deg))
        return float(factors.meridional_scale)

    def _own_lonlat(self, lon_deg: float, lat_deg: float) -> tuple[float, float]:
        """Return longitude and latitude [deg] on the datum of ``crs``."""
        # The projection's factors are functions of its own datum's coordinates,
        # which may differ from WGS 84 by 200 m, 0.002 deg of convergence.
        x, y = self._from_lonlat.transform(lon_deg, lat_deg)
        lon, lat = self._projection(x, y, inverse=True)
        return float(lon), float(lat)
