"""Lay a plan that is pinned to the ground on a ground's own grid."""

from __future__ import annotations

import threading
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import rasterio
import rasterio.shutil
from numpy.typing import NDArray
from rasterio._err import CPLE_BaseError
from rasterio.crs import CRS
from rasterio.enums import ColorInterp, Resampling
from rasterio.errors import RasterioError
from rasterio.vrt import WarpedVRT

from wherestood.daybook import Daybook
from wherestood.daybook.asked import whole_path
from wherestood.daybook.book import OUT
from wherestood.daybook.plan_copies import is_pinned_by_file, laid_copy
from wherestood.daybook.plan_place import raster_driver
from wherestood.daybook.tables import Plan
from wherestood.earth.frame import Frame
from wherestood.errors import InputError
from wherestood.server.troubles import NotThereError

__all__ = ["lay_plan", "plan_copy"]

_FOLDER = "plans"
_ONE_AT_A_TIME = threading.Lock()


def plan_copy(book: Daybook, plan: Plan) -> Path:
    """Return a copy of a plan in tiles and levels, made if there is none.

    What its own file places is copied as it is; what was pinned is laid on the ground.

    Raises
    ------
    NotThereError
        If its file is not where it was.
    InputError
        If it cannot be read.
    """
    if plan.withdrawn or not plan.file:
        raise NotThereError("The plan has no image.", "Take it in anew.")
    if not is_pinned_by_file(plan):
        return laid_copy(book, plan)
    source = whole_path(book.folder, plan.file)
    if not source.is_file():
        raise NotThereError(
            f"The file {plan.file!r} is not where it was.",
            "Put it back, or take the plan in anew.",
        )
    copy = book.folder / OUT / _FOLDER / f"{plan.sha256}.tif"
    with _ONE_AT_A_TIME:
        if copy.is_file():
            return copy
        driver = raster_driver(source)
        if driver is None:
            raise InputError(
                f"The plan {plan.key} cannot be read.", "Copy it again from its source."
            )
        copy.parent.mkdir(parents=True, exist_ok=True)
        passing = copy.with_suffix(".part")
        try:
            with rasterio.open(source, driver=driver) as opened:
                rasterio.shutil.copy(
                    opened,
                    passing,
                    driver="COG",
                    COMPRESS="DEFLATE",
                    OVERVIEW_RESAMPLING="AVERAGE",
                )
        except (RasterioError, CPLE_BaseError) as error:
            passing.unlink(missing_ok=True)
            raise InputError(
                f"The plan {plan.key} cannot be read.", "Copy it again from its source."
            ) from error
        passing.replace(copy)
    return copy


def lay_plan(
    copy: Path,
    frame: Frame,
    west_m: float,
    north_m: float,
    resolution_m: float,
    tile_px: int,
) -> NDArray[np.uint8]:
    """Return a square of a plan as it lies on a ground's grid.

    Parameters
    ----------
    copy : Path
        Of `plan_copy`.
    frame : Frame
        The ground's grid.
    west_m, north_m : float
        The square's corner [m].
    resolution_m : float
        Metres a pixel [m].
    tile_px : int
        Its side [px].

    Returns
    -------
    (tile_px, tile_px, 4) uint8 array
        Red, green, blue, opacity; clear where the plan is not.
    """
    # The grid's metres are true at its centre, those of its system larger by scale.
    step = resolution_m * frame.scale
    corner = rasterio.Affine(
        step, 0.0, west_m * frame.scale, 0.0, -step, north_m * frame.scale
    )
    with (
        rasterio.open(copy, driver="GTiff") as plan,
        WarpedVRT(
            plan,
            crs=_as_wkt(frame.crs),
            transform=corner,
            width=tile_px,
            height=tile_px,
            resampling=Resampling.bilinear,
            add_alpha=plan.nodata is None and ColorInterp.alpha not in plan.colorinterp,
            nodata=plan.nodata,
        ) as laid,
    ):
        bands = laid.read()
        opacity = laid.dataset_mask()
        palette = (
            plan.colormap(1) if plan.colorinterp[0] is ColorInterp.palette else None
        )
        colours = sum(one is not ColorInterp.alpha for one in plan.colorinterp)
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
