"""Read the pixels of an image file, whole at reduced size or by windows."""

from __future__ import annotations

import logging
import os
import struct
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import PlateError

# libvips reads these once, when it is loaded: warnings of damaged tags would
# otherwise go to the person's terminal.
os.environ.setdefault("VIPS_WARNING", "1")
logging.getLogger("pyvips").addHandler(logging.NullHandler())
logging.getLogger("pyvips").propagate = False

import pyvips  # noqa: E402
import rasterio  # noqa: E402
from rasterio.enums import Resampling  # noqa: E402
from rasterio.errors import NotGeoreferencedWarning, RasterioError  # noqa: E402
from rasterio.windows import Window  # noqa: E402

__all__ = ["ImageFile", "open_image"]

# Wherever the program opens a picture, drawings and tables are not even looked into.
pyvips.operation_block_set("VipsForeignLoad", True)
for _kind in ("Tiff", "Jpeg", "Png", "Webp"):
    pyvips.operation_block_set(f"VipsForeignLoad{_kind}", False)

Grey = NDArray[np.float32]

LARGEST_PX = 4_000_000_000
#: An interlaced PNG and a progressive JPEG are unpacked whole, in memory.
LARGEST_INTERLACED_PX = 200_000_000
SMALLEST_SIDE_PX = 16
JPEG_2000_SUFFIXES = frozenset({".jp2", ".j2k", ".jpx", ".jpf"})
_JPEG_SIGNATURE = b"\xff\xd8"
# Then a length, IHDR, width and height: ISO/IEC 15948:2004, 5.2 and 11.2.2.
_PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
# Each block of 8 x 8 has at least one code for its mean, of at least one bit: ITU-T
# T.81, F.1.2.1 and G.1.2.1.
_JPEG_BLOCK_PX = 64
_JPEG_2000_SIGNATURES = (b"\x00\x00\x00\x0cjP  ", b"\xff\x4f\xff\x51")
_SWAPPING_ORIENTATIONS = frozenset({5, 6, 7, 8})
_WHITE = {"uchar": 255.0, "ushort": 65535.0}
_LOADERS = ("tiffload", "jpegload", "pngload", "webpload")
_READABLE = "TIFF, JPEG, PNG, WebP or JPEG 2000"


@dataclass(frozen=True)
class ImageFile:
    """Hold what the header of an image file says.

    Attributes
    ----------
    path : Path
        The file.
    page : int
        Page within it, from 0.
    pages : int
        How many pages it has.
    width_px, height_px : int
        Size once turned upright by its orientation tag [px].
    ppi_tag : float or None
        Resolution tag [px/inch]; None if there is none.
    bands : int
        Number of bands: 1 for grey.
    jpeg_2000 : bool
        True if GDAL reads it, False if libvips does.
    """

    path: Path
    page: int
    pages: int
    width_px: int
    height_px: int
    ppi_tag: float | None
    bands: int
    jpeg_2000: bool

    def reduced(self, longest_px: int) -> Grey:
        """Read the whole image with its longest side at most `longest_px`.

        Returns
        -------
        (height, width) float32 array
            Luminance, 0 to 1, as stored (negatives stay negative).

        Raises
        ------
        PlateError
            If the file is damaged or ends too soon.
        """
        factor = max(1.0, max(self.width_px, self.height_px) / longest_px)
        if self.jpeg_2000:
            whole = (0, 0, self.width_px, self.height_px)
            return _read_jpeg_2000(self.path, whole, factor)
        try:
            return _reduced_by_vips(self, factor)
        except pyvips.Error as error:
            raise _damaged(self.path) from error

    def window(self, left: int, top: int, width: int, height: int) -> Grey:
        """Read a window at full size; it must lie inside the image.

        Returns
        -------
        (height, width) float32 array
            Luminance, 0 to 1, as stored.

        Raises
        ------
        PlateError
            If the file is damaged or ends too soon.
        """
        if self.jpeg_2000:
            return _read_jpeg_2000(self.path, (left, top, width, height), 1.0)
        try:
            image = _load(self.path, self.page, access="random").autorot()
            return _grey(image.crop(left, top, width, height))
        except pyvips.Error as error:
            raise _damaged(self.path) from error


def open_image(path: str | Path, page: int = 0) -> ImageFile:
    """Read the header of an image file; no pixel is read.

    Raises
    ------
    PlateError
        If there is no such file or page, it is empty, it is no image that can
        be read, or its declared size is absurd.
    """
    path = Path(path)
    if not path.is_file():
        raise PlateError(f"There is no file '{path}'.", "Check the path of the scan.")
    if path.stat().st_size == 0:
        raise PlateError(
            f"The scan '{path.name}' is empty (0 bytes).",
            "Copy it again from its source.",
        )
    with path.open("rb") as stream:
        start = stream.read(24)
    if start.startswith(_PNG_SIGNATURE):
        # The library only says that it cannot read one so large.
        width, height = struct.unpack(">II", start[16:24].ljust(8, b"\0"))
        _refuse_too_large(path, width, height)
    if start.startswith(_JPEG_2000_SIGNATURES):
        found = _open_jpeg_2000(path)
    else:
        found = _open_by_vips(path, page)
    _check_size(found)
    if start.startswith(_JPEG_SIGNATURE):
        _refuse_a_lie(found)
    return found


def _open_by_vips(path: Path, page: int) -> ImageFile:
    try:
        image = _load(path, 0, access="sequential")
        if not str(image.get("vips-loader")).startswith(_LOADERS):
            # Drawings and tables of numbers can be opened too, of any size they like.
            raise PlateError(
                f"The file '{path.name}' is no photograph (expected {_READABLE}).",
                "Give the scan itself, or export it as TIFF.",
            )
        pages = _field(image, "n-pages", 1)
        if not 0 <= page < pages:
            raise PlateError(
                f"The scan '{path.name}' has {pages} page(s), numbered from 0; "
                f"page {page} was asked for.",
                "Ask for a page it has.",
            )
        if page:
            image = _load(path, page, access="sequential")
    except pyvips.Error as error:
        raise PlateError(
            f"The file '{path.name}' is not an image that can be read, or its "
            f"header is damaged or ends too soon (expected {_READABLE}).",
            "Give the scan itself, copy it again, or export it as TIFF.",
        ) from error
    if (
        image.get_typeof("interlaced")
        and image.width * image.height > LARGEST_INTERLACED_PX
    ):
        raise PlateError(
            f"The scan '{path.name}' is interlaced or progressive, so that "
            f"{image.width * image.height / 1e6:.0f} megapixels must be in memory at "
            f"once; at most {LARGEST_INTERLACED_PX // 10**6} are.",
            "Save it without that, best as TIFF.",
        )
    turned = _field(image, "orientation", 1) in _SWAPPING_ORIENTATIONS
    sides = (image.height, image.width) if turned else (image.width, image.height)
    # libvips says 1 px/mm where the file says nothing.
    tagged = abs(image.xres - 1.0) > 1e-6
    return ImageFile(
        path=path,
        page=page,
        pages=pages,
        width_px=sides[0],
        height_px=sides[1],
        ppi_tag=float(image.xres * 25.4) if tagged else None,
        bands=int(image.bands),
        jpeg_2000=False,
    )


def _open_jpeg_2000(path: Path) -> ImageFile:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            with rasterio.open(path, driver="JP2OpenJPEG") as data:
                return ImageFile(
                    path=path,
                    page=0,
                    pages=1,
                    width_px=data.width,
                    height_px=data.height,
                    ppi_tag=None,
                    bands=data.count,
                    jpeg_2000=True,
                )
    except RasterioError as error:
        raise PlateError(
            f"The file '{path.name}' is not a JPEG 2000 that can be read.",
            "Export it again as TIFF.",
        ) from error


def _refuse_too_large(path: Path, width_px: int, height_px: int) -> None:
    if width_px * height_px > LARGEST_PX:
        raise PlateError(
            f"The scan '{path.name}' says that it is {width_px} x {height_px} px; at "
            f"most {LARGEST_PX // 10**6} megapixels can be read.",
            "If that is its true size, make a smaller copy.",
        )


def _check_size(found: ImageFile) -> None:
    size = f"{found.width_px} x {found.height_px} px"
    _refuse_too_large(found.path, found.width_px, found.height_px)
    if min(found.width_px, found.height_px) < SMALLEST_SIDE_PX:
        raise PlateError(
            f"The scan '{found.path.name}' is {size}; a plate needs at least "
            f"{SMALLEST_SIDE_PX} px a side.",
            "Give a larger scan.",
        )


def _refuse_a_lie(found: ImageFile) -> None:
    """Refuse a JPEG that says it is larger than its bytes can hold.

    The decoder would fill what is missing with grey.
    """
    held = found.path.stat().st_size * 8 * _JPEG_BLOCK_PX
    if found.width_px * found.height_px > held:
        raise PlateError(
            f"The scan '{found.path.name}' says that it is {found.width_px} x "
            f"{found.height_px} px; its bytes cannot hold so many.",
            "Copy it again from its source.",
        )


def _load(path: Path, page: int, **options: Any) -> pyvips.Image:
    if page:
        options["page"] = page
    return pyvips.Image.new_from_file(str(path), fail_on="truncated", **options)


def _field(image: pyvips.Image, name: str, absent: int) -> int:
    return int(image.get(name)) if image.get_typeof(name) else absent


def _reduced_by_vips(file: ImageFile, factor: float) -> Grey:
    options: dict[str, Any] = {"access": "sequential"}
    image = _load(file.path, file.page, **options)
    if image.get("vips-loader").startswith("jpegload") and factor >= 2.0:
        options["shrink"] = max(s for s in (2, 4, 8) if s <= factor)
        image = _load(file.path, file.page, **options)
    # The area mean keeps a faint ridge's contrast and averages the grain away.
    wanted = (file.width_px / factor, file.height_px / factor)
    if _field(image, "orientation", 1) in _SWAPPING_ORIENTATIONS:
        wanted = (wanted[1], wanted[0])
    ratio = (image.width / round(wanted[0]), image.height / round(wanted[1]))
    if max(ratio) > 1.0:
        image = _luminance(image).shrink(*(max(r, 1.0) for r in ratio))
    # Turned once small: turning needs random access, which would decode it all.
    return _grey(image.copy_memory().autorot())


def _luminance(image: pyvips.Image) -> pyvips.Image:
    if image.bands == 1:
        return image
    if image.interpretation in ("multiband", "b-w", "grey16") or image.bands == 2:
        return image[0]
    deep = image.format not in ("uchar", "char")
    return image.colourspace("grey16" if deep else "b-w")[0]


def _grey(image: pyvips.Image) -> Grey:
    image = _luminance(image)
    white = _WHITE.get(image.format, 1.0)
    pixels = np.asarray(image.numpy(), dtype=np.float32)
    pixels = pixels.reshape(image.height, image.width) / np.float32(white)
    if white == 1.0:
        pixels = np.nan_to_num(pixels, nan=0.0, posinf=0.0, neginf=0.0)
    return pixels


def _read_jpeg_2000(path: Path, box: tuple[int, int, int, int], factor: float) -> Grey:
    left, top, width, height = box
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            with rasterio.open(path, driver="JP2OpenJPEG") as data:
                bands = [1, 2, 3] if data.count >= 3 else [1]
                white = float(np.iinfo(np.dtype(data.dtypes[0])).max)
                pixels = data.read(
                    bands,
                    window=Window(left, top, width, height),
                    out_shape=(
                        len(bands),
                        round(height / factor),
                        round(width / factor),
                    ),
                    resampling=Resampling.average,
                )
    except (RasterioError, ValueError) as error:
        raise _damaged(path) from error
    weights = [0.2126, 0.7152, 0.0722] if len(bands) == 3 else [1.0]  # ITU-R BT.709
    grey = np.tensordot(np.asarray(weights, np.float32), pixels, axes=1) / white
    return np.ascontiguousarray(grey, dtype=np.float32)


def _damaged(path: Path) -> PlateError:
    return PlateError(
        f"The scan '{path.name}' is damaged or ends too soon: not all of its picture "
        "can be read.",
        "Copy it again from its source.",
    )
