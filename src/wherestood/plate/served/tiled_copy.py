"""Make a copy of a scan from which any piece can be read at once.

A scan is mostly stored line by line and packed, so that a piece from its middle needs
all that is before it. The copy is a tiled TIFF with the scan at half, a quarter ...
of its size, 8 bits a band, upright and positive; it can be thrown away and made anew.
"""

from __future__ import annotations

import uuid
import warnings
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyvips
import rasterio
from rasterio.errors import NotGeoreferencedWarning
from rasterio.windows import Window

from wherestood.errors import PlateError
from wherestood.plate.pixels import open_image
from wherestood.progress import SILENT, Progress

__all__ = ["TILE_PX", "TiledCopy", "make_tiled_copy", "open_tiled_copy"]

TILE_PX = 256
#: Above this TIFF's 32-bit offsets may not reach (TIFF 6.0, section 2) [bytes].
_NEEDS_BIG_TIFF = 3_000_000_000
_STRIP_PX = 1024
_LOOK_S = 0.1  # how often is looked how far it has come


@dataclass(frozen=True)
class TiledCopy:
    """Hold the levels of a tiled copy.

    Attributes
    ----------
    path : Path
    width_px, height_px : int
        Size of the scan [px].
    levels : tuple of (int, int)
        Width and height of each level, the whole first [px].
    bands : int
        1 for grey, 3 for colour.
    """

    path: Path
    width_px: int
    height_px: int
    levels: tuple[tuple[int, int], ...]
    bands: int

    def level(self, number: int) -> pyvips.Image:
        """Open one level; 0 is the whole."""
        options = {"page": number} if number else {}
        return pyvips.Image.new_from_file(str(self.path), access="random", **options)


def make_tiled_copy(
    scan: Path,
    target: Path,
    *,
    negative: bool,
    page: int = 0,
    progress: Progress = SILENT,
) -> None:
    """Write a tiled copy of a scan, all of it or nothing.

    Parameters
    ----------
    scan : Path
        The scan, which is only read.
    target : Path
        The copy.
    negative : bool
        Whether the scan is a negative, and the copy is to be its positive.
    page : int
        Page of the scan, from 0.
    progress : Progress
        Told of each hundredth; it may stop the work.

    Raises
    ------
    PlateError
        If the scan cannot be read to its end, or the copy not be written.
    CancelledError
        If it was stopped; nothing is left of it.

    Notes
    -----
    Streams: some hundred lines are in memory at once, whatever the size. Nothing is
    lost, since the answer may hide in a few pixels.
    """
    file = open_image(scan, page)
    target.parent.mkdir(parents=True, exist_ok=True)
    mark = uuid.uuid4().hex[:8]
    passing = target.with_name(f".{target.stem}-{mark}.tif")
    unpacked = target.with_name(f".{target.stem}-{mark}-unpacked.tif")
    try:
        if file.jpeg_2000:
            _unpack_jpeg_2000(scan, unpacked)
        source = unpacked if file.jpeg_2000 else scan
        image = _eight_bits(_opened(source, page))
        if negative:
            image = image.invert()
        _save(
            image,
            passing,
            progress,
            tile=True,
            tile_width=TILE_PX,
            tile_height=TILE_PX,
            pyramid=True,
            # Packing takes five times as long, and what is packed is read slower.
            compression="none",
            bigtiff=image.width * image.height * image.bands > _NEEDS_BIG_TIFF,
        )
        passing.replace(target)
    except pyvips.Error as error:
        last = str(error).strip().splitlines()
        raise PlateError(
            f"The scan '{scan.name}' cannot be made ready to look at"
            f"{': ' + last[-1].strip() if last else ''}.",
            "Copy it again from its source, or make room on the disk.",
        ) from error
    finally:
        passing.unlink(missing_ok=True)
        unpacked.unlink(missing_ok=True)


def _save(
    image: pyvips.Image, target: Path, progress: Progress, **options: Any
) -> None:
    """Save an image while somebody is told of each hundredth, and may stop it.

    The library's own reports come from its threads, through which no exception goes and
    which outlive the call once it is stopped: what is on disk says as much.
    """
    whole = image.width * image.height * image.bands  # before smaller levels follow
    told = 0
    with ThreadPoolExecutor(1) as other:
        saving = other.submit(image.tiffsave, str(target), **options)
        try:
            while not wait((saving,), _LOOK_S).done:
                there = target.stat().st_size if target.exists() else 0
                percent = min(99, int(100 * there / whole))
                progress.advance(max(percent - told, 0))
                told = max(percent, told)
        except BaseException:
            image.set_kill(True)
            raise
        saving.result()
    progress.advance(100 - told)


def open_tiled_copy(path: Path) -> TiledCopy:
    """Open a tiled copy.

    Raises
    ------
    PlateError
        If it is damaged.
    """
    try:
        image = pyvips.Image.new_from_file(str(path), access="random")
        pages = int(image.get("n-pages")) if image.get_typeof("n-pages") else 1
        levels = [(image.width, image.height)]
        for number in range(1, pages):
            smaller = pyvips.Image.new_from_file(str(path), page=number)
            levels.append((smaller.width, smaller.height))
        return TiledCopy(path, image.width, image.height, tuple(levels), image.bands)
    except pyvips.Error as error:
        raise PlateError(
            f"The tiled copy '{path.name}' is damaged.", "Delete it; it is made anew."
        ) from error


def _opened(path: Path, page: int) -> pyvips.Image:
    options = {"page": page} if page else {}
    name = str(path)
    image = pyvips.Image.new_from_file(
        name, access="sequential", fail_on="truncated", **options
    )
    turned = image.get("orientation") if image.get_typeof("orientation") else 1
    if turned == 1:
        return image
    # Turning needs lines out of order: libvips unpacks it to a file of its own.
    image = pyvips.Image.new_from_file(
        name, access="random", fail_on="truncated", **options
    )
    return image.autorot()


def _eight_bits(image: pyvips.Image) -> pyvips.Image:
    """Return grey or colour of 8 bits a band, without transparency."""
    if image.format in ("float", "double"):
        # Luminance from 0 to 1, as `wherestood.plate.pixels` takes it.
        image = (image * 255.0).cast("uchar")
    colour = image.bands >= 3 and image.interpretation != "multiband"
    if image.hasalpha():
        image = image.flatten(background=255)
    if not colour and image.bands > 1:
        image = image[0]
    if image.format == "uchar" and image.interpretation in ("b-w", "srgb"):
        return image
    if not colour:
        deep = image.format not in ("uchar", "char")
        image = image.copy(interpretation="grey16" if deep else "b-w")
        return image.colourspace("b-w")[0]
    return image.colourspace("srgb").cast("uchar")


def _unpack_jpeg_2000(scan: Path, target: Path) -> None:
    """Write a JPEG 2000 as a TIFF in strips, one strip in memory at a time."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.open(scan, driver="JP2OpenJPEG") as data:
            bands = [1, 2, 3] if data.count >= 3 else [1]
            with rasterio.open(
                target,
                "w",
                driver="GTiff",
                width=data.width,
                height=data.height,
                count=len(bands),
                dtype=data.dtypes[0],
                photometric="RGB" if len(bands) == 3 else "MINISBLACK",
                BIGTIFF="IF_SAFER",
            ) as out:
                for top in range(0, data.height, _STRIP_PX):
                    rows = min(_STRIP_PX, data.height - top)
                    window = Window(0, top, data.width, rows)
                    out.write(data.read(bands, window=window), window=window)
