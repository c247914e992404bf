"""Convert between longitude and latitude and a local metric grid."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pyproj
from numpy.typing import NDArray

from wherestood.earth.datum import find_datum_shift

__all__ = ["Frame"]

_WGS84 = pyproj.Geod(ellps="WGS84")
# A grid line of this length bends by less than a millionth of a degree.
_SHORT_LINE_M = 100.0


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
        """Return grid convergence [deg]: add it to a grid bearing for a true one.

        It is the true bearing of a short grid line, not the projection's own
        factor: that counts from the meridians of the grid's datum, which may stand
        0.001 deg askew to those of WGS 84.
        """
        return self._short_grid_line(lon_deg, lat_deg)[1]

    def point_scale(self, lon_deg: float, lat_deg: float) -> float:
        """Return length on the grid of ``crs`` over length on the ground, no unit."""
        return _SHORT_LINE_M / self._short_grid_line(lon_deg, lat_deg)[0]

    def _short_grid_line(self, lon_deg: float, lat_deg: float) -> tuple[float, float]:
        """Return length [m] and true bearing [deg] of grid north about a point."""
        x, y = self._from_lonlat.transform(lon_deg, lat_deg)
        half = _SHORT_LINE_M / 2.0
        lon, lat = self._from_lonlat.transform(
            np.array([x, x]), np.array([y - half, y + half]), direction="INVERSE"
        )
        start_deg, back_deg, length_m = _WGS84.inv(lon[0], lat[0], lon[1], lat[1])
        # The bearing at the middle is the mean of both ends', near a pole too.
        turn_deg = (back_deg + 180.0 - start_deg + 180.0) % 360.0 - 180.0
        middle_deg = start_deg + turn_deg / 2.0
        return float(length_m), float((middle_deg + 180.0) % 360.0 - 180.0)
