"""Lay a plan that is pinned to the ground on a ground's own grid."""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
import rasterio
import rasterio.shutil
from numpy.typing import NDArray
from rasterio._err import CPLE_BaseError
from rasterio.errors import RasterioError

from wherestood.daybook import Daybook
from wherestood.daybook.asked import whole_path
from wherestood.daybook.book import OUT
from wherestood.daybook.plan_copies import is_pinned_by_file, laid_copy
from wherestood.daybook.plan_place import raster_driver
from wherestood.daybook.tables import Plan
from wherestood.earth.frame import Frame
from wherestood.errors import InputError
from wherestood.plans.laid import LaidPicture
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
    laid = LaidPicture(copy, "GTiff", frame, resolution_m)
    return laid.window(west_m, north_m, resolution_m, (tile_px, tile_px))
