"""Write then and now: one page that works alone, and two TIFF of the plate's size."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
import pyvips
from numpy.typing import NDArray

from wherestood.errors import PlateError
from wherestood.plate.photograph import Photograph
from wherestood.plate.scan import Plate
from wherestood.record.atomic import folder_at_the_end, write_text_atomically
from wherestood.visit.then_and_now import ThenAndNow
from wherestood.visit.then_and_now_page import then_and_now_page

__all__ = ["THEN_AND_NOW_FILES", "write_then_and_now"]

THEN_AND_NOW_FILES = ("then-and-now.html", "then.tif", "now.tif")
_PAGE_PX, _JPEG_QUALITY, _STRIPE_ROWS = 1600, 88, 1024


def write_then_and_now(
    folder: Path,
    told: ThenAndNow,
    plate: Plate,
    photograph: Photograph,
    title: str,
    captions: tuple[str, str],
    sentences: Sequence[str],
    caution: str = "",
) -> tuple[Path, ...]:
    """Write all files or none.

    Parameters
    ----------
    folder : Path
        Where to.
    told : ThenAndNow
    plate : Plate
    photograph : Photograph
    title : str
        Of the plate.
    captions : (str, str)
        Under then and now; what a scan shows left for right is shown the right way
        round on both.
    sentences : sequence of str
        What the page says.
    caution : str
        What must stand on its face.

    Raises
    ------
    InputError
        If a picture is damaged, or the folder cannot be written.
    """
    colours = photograph.colours()
    grey, _ = plate.reduced(_PAGE_PX)
    then = np.repeat(_tones(grey)[..., None], 3, axis=2)
    rows, columns = then.shape[:2]
    factor = max(1.0, plate.width_px / columns)
    # A photograph drawn much smaller than it is would break into dots.
    small: NDArray[np.uint8] = colours
    if factor > 1.5:
        size = round(colours.shape[1] / factor), round(colours.shape[0] / factor)
        shrunk = cv2.resize(colours, size, interpolation=cv2.INTER_AREA)
        small = np.asarray(shrunk, dtype=np.uint8)
    now = told.laying.drawn(
        small, (rows, columns), factor=colours.shape[1] / small.shape[1]
    )
    turn = -1 if told.plate_mirrored else 1
    page = then_and_now_page(
        title,
        _jpeg(then[:, ::turn]),
        _jpeg(now[:, ::turn]),
        (columns, rows),
        captions,
        sentences,
        caution,
    )
    with folder_at_the_end(folder) as made:
        write_text_atomically(made / THEN_AND_NOW_FILES[0], page)
        try:
            _write_tiff(made / THEN_AND_NOW_FILES[1], _then_stripes(told, plate), plate)
            _write_tiff(
                made / THEN_AND_NOW_FILES[2], _now_stripes(told, plate, colours), plate
            )
        except pyvips.Error as error:
            raise PlateError(
                "The pictures cannot be written.", "Is the disk full?"
            ) from error
    return tuple(folder / name for name in THEN_AND_NOW_FILES)


def _tones(grey: NDArray[np.float32]) -> NDArray[np.uint8]:
    return np.asarray(np.clip(grey, 0.0, 1.0) * 255.0 + 0.5, dtype=np.uint8)


def _jpeg(picture: NDArray[np.uint8]) -> bytes:
    image = pyvips.Image.new_from_array(np.ascontiguousarray(picture))
    image = image.copy(interpretation="srgb")
    return bytes(image.jpegsave_buffer(Q=_JPEG_QUALITY))


def _then_stripes(told: ThenAndNow, plate: Plate) -> list[pyvips.Image]:
    stripes = []
    for top in range(0, plate.height_px, _STRIPE_ROWS):
        rows = min(_STRIPE_ROWS, plate.height_px - top)
        stripe = _tones(plate.window(0, top, plate.width_px, rows))
        stripes.append(_picture(stripe, told))
    return stripes


def _picture(tones: NDArray[np.uint8], told: ThenAndNow) -> pyvips.Image:
    """Return tones as a picture, the right way round."""
    turned = tones[:, ::-1] if told.plate_mirrored else tones
    return pyvips.Image.new_from_array(np.ascontiguousarray(turned))


def _now_stripes(
    told: ThenAndNow, plate: Plate, colours: NDArray[np.uint8]
) -> list[pyvips.Image]:
    stripes = []
    for top in range(0, plate.height_px, _STRIPE_ROWS):
        rows = min(_STRIPE_ROWS, plate.height_px - top)
        drawn = told.laying.drawn(
            colours, (rows, plate.width_px), top / plate.height_px,
            (top + rows) / plate.height_px,
        )  # fmt: skip
        stripes.append(_picture(drawn, told).copy(interpretation="srgb"))
    return stripes


def _write_tiff(path: Path, stripes: list[pyvips.Image], plate: Plate) -> None:
    image = (
        pyvips.Image.arrayjoin(stripes, across=1) if len(stripes) > 1 else stripes[0]
    )
    image = image.crop(0, 0, plate.width_px, plate.height_px)
    scale = plate.px_per_mm
    if scale is not None:
        image = image.copy(xres=scale, yres=scale)
    image.tiffsave(str(path), compression="deflate", predictor="horizontal")
