"""Make copies of plans to be looked at: as a sheet, and as it lies on the ground."""

from __future__ import annotations

import hashlib
import json
import threading
import warnings
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pyproj
import rasterio
import rasterio.shutil
from numpy.typing import NDArray
from PIL import Image
from rasterio.crs import CRS
from rasterio.errors import RasterioError

from wherestood.daybook.asked import whole_path
from wherestood.daybook.book import OUT, Daybook
from wherestood.daybook.plan_pins import PinnedPlan, pinned_plan
from wherestood.daybook.plan_place import BY_FILE
from wherestood.daybook.tables import Plan
from wherestood.errors import InputError, PlanError
from wherestood.plans.sheet_file import SheetFile, draw_sheet, open_sheet

__all__ = ["is_pinned_by_file", "laid_copy", "plan_file", "sheet_copy"]

_FOLDER = "plans"
_ONE_AT_A_TIME = threading.Lock()
#: A copy on the ground is made of no more pixels than this.
_MOST_PX = 100_000_000
#: The map is computed at every so many pixels, and is straight between them.
_STEP_PX = 16
_ALONG_EDGE = 64
#: Nothing of a sheet is laid farther out than this many of its own widths: beyond, an
#: askew sheet runs to its horizon.
_FARTHEST = 4.0


def plan_file(book: Daybook, plan: Plan) -> Path:
    """Return the file of a plan.

    Raises
    ------
    PlanError
        If it has none, or it is not where it was.
    """
    if plan.withdrawn or not plan.file:
        raise PlanError(f"The plan {plan.key} has no image.", "Take it in anew.")
    source = whole_path(book.folder, plan.file)
    if not source.is_file():
        raise PlanError(
            f"The file {plan.file!r} is not where it was.",
            "Put it back, or take the plan in anew.",
        )
    return source


def is_pinned_by_file(plan: Plan) -> bool:
    """Tell whether a plan lies where its own file says."""
    pins = plan.pins or []
    named = [str(pin.get("name", BY_FILE)).startswith(BY_FILE) for pin in pins]
    return bool(named) and all(named) and plan.page_ppi is None


def _opened(book: Daybook, plan: Plan) -> tuple[Path, SheetFile]:
    source = plan_file(book, plan)
    return source, open_sheet(source, plan.page, plan.page_ppi)


def sheet_copy(book: Daybook, plan: Plan) -> Path:
    """Return a picture of a plan's sheet, upright, whose pixels its pins are in.

    Raises
    ------
    PlanError
        If its file cannot be drawn.
    """
    source, sheet = _opened(book, plan)
    name = f"{plan.sha256}-{sheet.page}-{sheet.page_ppi or 0:.0f}.png"
    copy = book.folder / OUT / _FOLDER / name
    with _ONE_AT_A_TIME:
        if not copy.is_file():
            copy.parent.mkdir(parents=True, exist_ok=True)
            passing = copy.with_suffix(".part")
            Image.fromarray(draw_sheet(source, sheet)).save(passing, "PNG")
            passing.replace(copy)
    return copy


def laid_copy(book: Daybook, plan: Plan) -> Path:
    """Return a copy of a pinned plan as it lies on the ground, with tiles and levels.

    Raises
    ------
    PlanError
        If it is not pinned, or cannot be drawn.
    """
    pinned = pinned_plan(plan)
    by = json.dumps([plan.pins, plan.fit, plan.mirrored, plan.page], sort_keys=True)
    name = f"{plan.sha256}-{hashlib.sha256(by.encode()).hexdigest()[:16]}.tif"
    copy = book.folder / OUT / _FOLDER / name
    with _ONE_AT_A_TIME:
        if copy.is_file():
            return copy
        source, sheet = _opened(book, plan)
        copy.parent.mkdir(parents=True, exist_ok=True)
        _lay(draw_sheet(source, sheet), pinned, copy)
    return copy


def _lay(pixels: NDArray[np.uint8], pinned: PinnedPlan, copy: Path) -> None:
    """Write a sheet as it lies on the ground."""
    height, width = pixels.shape[:2]
    west, south, east, north = _edges_m(pinned, width, height)
    step_m = pinned.pinning.metres_per_px
    step_m = max(step_m, float(np.sqrt((east - west) * (north - south) / _MOST_PX)))
    columns, rows = (
        max(1, int(np.ceil(side / step_m))) for side in (east - west, north - south)
    )
    passing, plain = copy.with_suffix(".part"), copy.with_suffix(".plain")
    try:
        with rasterio.open(
            plain, "w", driver="GTiff", width=columns, height=rows, count=4,
            dtype="uint8", tiled=True, photometric="RGB", alpha="YES",
            crs=_as_crs(pinned.frame.crs), BIGTIFF="IF_SAFER",
            transform=rasterio.Affine(step_m, 0.0, west, 0.0, -step_m, north),
        ) as target:  # fmt: skip
            for top in range(0, rows, 1024):
                count = min(1024, rows - top)
                at = _sheet_places(pinned, west, north, step_m, top, count, columns)
                laid = _drawn_at(pixels, at)
                window = rasterio.windows.Window(0, top, columns, count)
                target.write(np.moveaxis(laid, -1, 0), window=window)
        rasterio.shutil.copy(
            plain, passing, driver="COG", COMPRESS="DEFLATE",
            OVERVIEW_RESAMPLING="AVERAGE",
        )  # fmt: skip
        passing.replace(copy)
    except RasterioError as error:
        raise InputError(
            f"The plan {pinned.key} cannot be laid on the ground.",
            "Look at its pins, or copy its file again from its source.",
        ) from error
    finally:
        passing.unlink(missing_ok=True)
        plain.unlink(missing_ok=True)


def _edges_m(
    pinned: PinnedPlan, width: int, height: int
) -> tuple[float, float, float, float]:
    along = np.linspace(0.0, 1.0, _ALONG_EDGE)
    none, whole = np.zeros(_ALONG_EDGE), np.ones(_ALONG_EDGE)
    edge = np.vstack(
        [
            np.column_stack(pair)
            for pair in ((along, none), (along, whole), (none, along), (whole, along))
        ]
    )
    ground = pinned.pinning.to_ground(edge * [width, height])
    ground = ground[np.all(np.isfinite(ground), axis=1)]
    middle = pinned.pinning.pins.ground_m.mean(axis=0)
    most = _FARTHEST * pinned.pinning.metres_per_px * max(width, height)
    ground = np.clip(ground, middle - most, middle + most)
    return (*ground.min(axis=0), *ground.max(axis=0))


def _sheet_places(
    pinned: PinnedPlan,
    west: float,
    north: float,
    step_m: float,
    top: int,
    count: int,
    columns: int,
) -> NDArray[np.float32]:
    """Return where on the sheet each pixel of some rows is [px]."""
    across = np.arange(0, columns + _STEP_PX, _STEP_PX)
    down = np.arange(0, count + _STEP_PX, _STEP_PX)
    ground = np.stack(
        np.meshgrid(
            west + (across + 0.5) * step_m, north - (top + down + 0.5) * step_m
        ),
        axis=-1,
    )
    coarse = pinned.pinning.to_sheet(ground)
    coarse = np.where(np.isfinite(coarse), coarse, -1e6).astype(np.float32)
    where = [
        np.arange(number, dtype=np.float32) / _STEP_PX for number in (columns, count)
    ]
    at = np.meshgrid(*where)
    fine = [
        cv2.remap(
            np.ascontiguousarray(coarse[..., axis]), at[0], at[1], cv2.INTER_LINEAR
        )
        for axis in (0, 1)
    ]
    return np.stack(fine, axis=-1)


def _drawn_at(pixels: NDArray[np.uint8], at: NDArray[np.float32]) -> NDArray[np.uint8]:
    height, width = pixels.shape[:2]
    # A pixel's middle is half a pixel in; what is asked for counts from corners.
    drawn: Any = cv2.remap(
        pixels, at[..., 0] - 0.5, at[..., 1] - 0.5, cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    inside = (at >= 0.0).all(axis=-1) & (at <= [width, height]).all(axis=-1)
    return np.dstack([drawn, np.where(inside, 255, 0).astype(np.uint8)])


def _as_crs(crs: str) -> CRS:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        return CRS.from_wkt(pyproj.CRS(crs).to_wkt())
