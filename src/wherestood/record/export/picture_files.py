"""Write pictures to look at: positive, of moderate size, with nothing else inside."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyvips

from wherestood.errors import PlateError
from wherestood.plate.pixels import JPEG_2000_SUFFIXES, open_image
from wherestood.plate.scan import Plate

__all__ = ["LONGEST_PX", "PictureSize", "write_picture_file"]

QUALITY = 90  # of a JPEG
LONGEST_PX = 3000  # for looking at; who needs more asks the holder


@dataclass(frozen=True)
class PictureSize:
    """Hold the size of a picture that was written [px]."""

    width_px: int
    height_px: int


def write_picture_file(
    source: Path,
    path: Path,
    *,
    page: int = 0,
    negative: bool | None = None,
    reversed: bool = False,
    longest_px: int = LONGEST_PX,
) -> PictureSize:
    """Write a scan as a positive JPEG of moderate size, with nothing inside but it.

    Parameters
    ----------
    source : Path
        The scan.
    path : Path
        The new file.
    page : int
        Of the scan's file, from 0.
    negative : bool, optional
        Whether it is a negative; judged from its tones if not said.
    reversed : bool
        Whether its file is left for right; the picture is then turned right.
    longest_px : int
        Its longer side at most [px].

    Raises
    ------
    PlateError
        If the scan cannot be read whole.
    """
    opened = Plate.open(source, negative=negative, page=page)
    if opened.image.bands < 3 or source.suffix.lower() in JPEG_2000_SUFFIXES:
        grey, _ = opened.reduced(longest_px)
        tones = np.round(np.clip(grey, 0.0, 1.0) * 255.0).astype(np.uint8)
        rows, columns = tones.shape
        picture = pyvips.Image.new_from_memory(
            tones.tobytes(), columns, rows, 1, "uchar"
        )
    else:
        picture = _in_colour(source, page, longest_px, negative=opened.negative)
    try:
        if reversed:
            picture = picture.fliphor()
        picture.jpegsave(str(path), Q=QUALITY, keep="none")
    except pyvips.Error as error:
        raise PlateError(
            f"The scan {source.name!r} cannot be read whole.", "See wherestood verify."
        ) from error
    return PictureSize(int(picture.width), int(picture.height))


def _in_colour(
    source: Path, page: int, longest_px: int, *, negative: bool
) -> pyvips.Image:
    open_image(source, page)  # refuses what lies about its size
    options = {"page": page} if page else {}
    try:
        whole = pyvips.Image.new_from_file(
            str(source), access="sequential", fail_on="truncated", **options
        )
        # Turned once small: turning needs random access, which would decode it all.
        picture = whole.thumbnail_image(
            longest_px, height=longest_px, size="down", no_rotate=True
        )
        picture = picture.copy_memory().autorot()
        if picture.hasalpha():
            picture = picture.flatten(background=255)
        picture = picture.colourspace("srgb")
        return picture.invert() if negative else picture
    except pyvips.Error as error:
        raise PlateError(
            f"The scan {source.name!r} cannot be read whole.", "See wherestood verify."
        ) from error
