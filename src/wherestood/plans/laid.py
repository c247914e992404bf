"""Read a raster with a place on the ground, as it lies on a frame's metres."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import rasterio
from numpy.typing import NDArray
from rasterio.crs import CRS
from rasterio.enums import ColorInterp, Resampling
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.vrt import WarpedVRT
from rasterio.warp import transform_bounds

from wherestood.earth.frame import Frame
from wherestood.errors import InputError

__all__ = ["LaidPicture"]


@dataclass(frozen=True)
class LaidPicture:
    """Be a raster with a place on the ground.

    Attributes
    ----------
    path : Path
    driver : str
        What GDAL reads it by: nothing else is tried.
    frame : Frame
        Its metres are those of the ground.
    cell_m : float
        How large a pixel is on the ground, about [m].
    """

    path: Path
    driver: str
    frame: Frame
    cell_m: float

    @classmethod
    def open(cls, path: Path, driver: str, frame: Frame) -> LaidPicture:
        """Look at a raster.

        Raises
        ------
        InputError
            If it cannot be read, or does not say where it lies.
        """
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", NotGeoreferencedWarning)
                with rasterio.open(path, driver=driver) as raster:
                    if raster.crs is None or raster.transform.is_identity:
                        raise InputError(
                            f"{path.name!r} does not say where on the ground it lies.",
                            "Pin it as a plan of a daybook, or save it with its "
                            "reference system.",
                        )
                    west, south, east, north = transform_bounds(
                        raster.crs, _as_wkt(frame.crs), *raster.bounds
                    )
                    size = max(raster.width, raster.height)
        except (RasterioError, OSError) as error:
            raise InputError(
                f"{path.name!r} cannot be read as a picture.",
                "Give a GeoTIFF, or another raster with its place.",
            ) from error
        return cls(path, driver, frame, max(east - west, north - south) / size)

    def window(
        self, west_m: float, north_m: float, cell_m: float, size_px: tuple[int, int]
    ) -> NDArray[np.uint8]:
        """Return a window of it as it lies on the ground.

        Parameters
        ----------
        west_m, north_m : float
            The window's upper left corner [m].
        cell_m : float
            Metres a pixel [m].
        size_px : (int, int)
            Its width and height [px].

        Returns
        -------
        (height, width, 4) uint8 array
            Red, green, blue, opacity; clear where the picture is not.
        """
        # The frame's metres are true at its centre, its system's larger by scale.
        scale = self.frame.scale
        step = cell_m * scale
        corner = rasterio.Affine(step, 0.0, west_m * scale, 0.0, -step, north_m * scale)
        with (
            rasterio.open(self.path, driver=self.driver) as raster,
            WarpedVRT(
                raster,
                crs=_as_wkt(self.frame.crs),
                transform=corner,
                width=size_px[0],
                height=size_px[1],
                resampling=Resampling.bilinear,
                add_alpha=raster.nodata is None
                and ColorInterp.alpha not in raster.colorinterp,
                nodata=raster.nodata,
            ) as laid,
        ):
            bands = laid.read()
            opacity = laid.dataset_mask()
            palette = (
                raster.colormap(1)
                if raster.colorinterp[0] is ColorInterp.palette
                else None
            )
            colours = sum(one is not ColorInterp.alpha for one in raster.colorinterp)
        return np.dstack([*_rgb(bands[:colours], palette), opacity])


def _rgb(
    bands: NDArray[Any], palette: dict[int, tuple[int, ...]] | None
) -> NDArray[np.uint8]:
    if palette is not None:
        table = np.zeros((256, 3), dtype=np.uint8)
        for index, colour in palette.items():
            if index < 256:
                table[index] = colour[:3]
        looked_up: NDArray[np.uint8] = table[bands[0].astype(np.uint8)]
        return np.moveaxis(looked_up, -1, 0)
    values = bands[:3] if bands.shape[0] >= 3 else np.repeat(bands[:1], 3, axis=0)
    if values.dtype == np.uint16:
        values = values // 256
    tones: NDArray[np.uint8] = np.clip(values, 0, 255).astype(np.uint8)
    return tones


def _as_wkt(crs: str) -> CRS:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        return CRS.from_wkt(pyproj.CRS(crs).to_wkt())
