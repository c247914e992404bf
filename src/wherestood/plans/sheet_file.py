"""Open the file of a sheet: a page of a PDF or a TIFF, or a picture.

Scripts in a PDF are never run: the renderer has no engine for them, and its forms are
never begun.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pyvips
import rasterio
from numpy.typing import NDArray
from rasterio.errors import NotGeoreferencedWarning, RasterioError

from wherestood.errors import PlanError

__all__ = ["LARGEST_PX", "SheetFile", "draw_sheet", "open_sheet"]

#: A page without pixels is drawn as finely as plans are scanned: common practice.
USUAL_PPI = 300.0
#: Larger sheets are refused.
LARGEST_PX = 2_000_000_000
#: Pages of a PDF are drawn less finely than wanted, if need be.
_LARGEST_DRAWN_PX = 200_000_000
#: More pages than this are a book, not a plan.
MOST_PAGES = 2000
_POINTS_PER_INCH = 72.0  # ISO 32000-1, 8.3.2.3
_PDF = b"%PDF-"
_PDF_HEAD_BYTES = 1024  # within which the mark stands, ISO 32000-1, annex H
_TIFF = (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")


@dataclass(frozen=True)
class SheetFile:
    """Hold what a sheet's file is.

    Attributes
    ----------
    kind : str
        ``"pdf"``, ``"tiff"`` or ``"picture"``.
    pages : int
        How many pages the file has.
    page : int
        Which is meant, from 1.
    width_px, height_px : int
        Its size, upright [px].
    page_ppi : float or None
        How finely a page of a PDF is drawn; None for what has pixels.
    directory : int
        Which directory of a TIFF the page is, from 1.
    notes : tuple of str
        What to know about it.
    """

    kind: str
    pages: int
    page: int
    width_px: int
    height_px: int
    page_ppi: float | None = None
    directory: int = 1
    notes: tuple[str, ...] = ()


def open_sheet(
    path: Path, page: int | None = None, page_ppi: float | None = None
) -> SheetFile:
    """Look at the file of a sheet, without drawing it.

    Parameters
    ----------
    path : Path
        PDF, TIFF, JPEG, PNG, JPEG 2000 or WebP.
    page : int, optional
        Which page, from 1; needed where there are several.
    page_ppi : float, optional
        How finely a page of a PDF is drawn; 300 unless told, less for the largest.

    Raises
    ------
    PlanError
        If it cannot be read, has no such page, or is too large.
    """
    try:
        with path.open("rb") as stream:
            head = stream.read(_PDF_HEAD_BYTES)
    except OSError as error:
        raise PlanError(
            f"The file {path.name!r} cannot be read ({error.strerror}).",
            "Check its name.",
        ) from error
    if _PDF in head:
        return _open_pdf(path, page, page_ppi)
    if head.startswith(_TIFF):
        return _open_tiff(path, page)
    if page not in (None, 1):
        raise PlanError(f"The picture {path.name!r} has one page.", "Leave --page out.")
    width, height = _picture_size(path, 0)
    return SheetFile("picture", 1, 1, width, height)


def draw_sheet(path: Path, sheet: SheetFile) -> NDArray[np.uint8]:
    """Draw a sheet, upright.

    Returns
    -------
    (height, width, 3) uint8 array
        Red, green, blue.

    Raises
    ------
    PlanError
        If it cannot be drawn.
    """
    if sheet.kind == "pdf":
        return _draw_pdf(path, sheet)
    image = _picture(path, sheet.directory - 1)
    if image.interpretation in ("b-w", "rgb16", "grey16") or image.bands <= 2:
        image = image.colourspace("b-w" if image.bands <= 2 else "srgb")
    else:
        image = image.colourspace("srgb")
    if image.hasalpha():
        image = image.flatten(background=255)
    pixels = np.asarray(image.cast("uchar").numpy(), dtype=np.uint8)
    if pixels.ndim == 2:
        pixels = pixels[..., None]
    return np.repeat(pixels[..., :1], 3, 2) if pixels.shape[2] < 3 else pixels[..., :3]


def _chosen(path: Path, page: int | None, pages: int) -> int:
    if pages > MOST_PAGES:
        raise PlanError(
            f"The file {path.name!r} has {pages} pages; at most {MOST_PAGES} are "
            "looked through.",
            "Save the plan's page by itself.",
        )
    if page is None and pages > 1:
        raise PlanError(
            f"The file {path.name!r} has {pages} pages.",
            "Say which is the plan, with --page N.",
        )
    chosen = page or 1
    if not 1 <= chosen <= pages:
        raise PlanError(
            f"The file {path.name!r} has no page {chosen}.",
            f"It has pages 1 to {pages}." if pages > 1 else "It has one page.",
        )
    return chosen


def _refuse_large(path: Path, width: int, height: int) -> None:
    if width * height > LARGEST_PX:
        raise PlanError(
            f"The sheet {path.name!r} has {width * height / 1e6:.0f} megapixels; at "
            f"most {LARGEST_PX // 10**6} are taken in.",
            "Make a smaller copy.",
        )


def _opened_pdf(path: Path) -> pypdfium2.PdfDocument:
    try:
        return pypdfium2.PdfDocument(path)
    except pypdfium2.PdfiumError as error:
        locked = "assword" in str(error)
        raise PlanError(
            f"The PDF {path.name!r} {'needs a password' if locked else 'is damaged'}.",
            "Save it without one." if locked else "Copy it again from its source.",
        ) from error


def _open_pdf(path: Path, page: int | None, page_ppi: float | None) -> SheetFile:
    document = _opened_pdf(path)
    try:
        pages = len(document)
        chosen = _chosen(path, page, pages)
        notes = []
        if pypdfium2.raw.FPDFDoc_GetJavaScriptActionCount(document) > 0:
            notes.append("The PDF holds scripts; they were not run.")
        try:
            width_in, height_in = (
                side / _POINTS_PER_INCH for side in document[chosen - 1].get_size()
            )
        except pypdfium2.PdfiumError as error:
            raise PlanError(
                f"Page {chosen} of {path.name!r} is damaged.",
                "Copy the file again from its source.",
            ) from error
    finally:
        document.close()
    ppi = page_ppi or USUAL_PPI
    most = (_LARGEST_DRAWN_PX / max(width_in * height_in, 1e-9)) ** 0.5
    if ppi > most:
        ppi = float(int(most))
        notes.append(f"The page is so large that it is drawn at {ppi:.0f} to the inch.")
    # The renderer rounds up.
    width, height = (int(np.ceil(side * ppi - 1e-6)) for side in (width_in, height_in))
    return SheetFile("pdf", pages, chosen, width, height, ppi, notes=tuple(notes))


def _draw_pdf(path: Path, sheet: SheetFile) -> NDArray[np.uint8]:
    document = _opened_pdf(path)
    try:
        scale = (sheet.page_ppi or USUAL_PPI) / _POINTS_PER_INCH
        drawn = document[sheet.page - 1].render(scale=scale, rev_byteorder=True)
        pixels = np.array(drawn.to_numpy())
    except pypdfium2.PdfiumError as error:
        raise PlanError(
            f"Page {sheet.page} of {path.name!r} cannot be drawn.",
            "Copy the file again from its source.",
        ) from error
    finally:
        document.close()
    if pixels.ndim == 2:
        pixels = pixels[..., None]
    return np.repeat(pixels[..., :1], 3, 2) if pixels.shape[2] < 3 else pixels[..., :3]


def _open_tiff(path: Path, page: int | None) -> SheetFile:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            with rasterio.open(path, driver="GTiff") as raster:
                # Reduced copies inside a file are no pages of it; GDAL knows them.
                names = [name for name in raster.subdatasets if "GTIFF_DIR:" in name]
    except RasterioError as error:
        raise PlanError(
            f"The TIFF {path.name!r} cannot be read.", "Copy it again from its source."
        ) from error
    directories = [int(name.split(":")[1]) for name in names] or [1]
    chosen = _chosen(path, page, len(directories))
    directory = directories[chosen - 1]
    width, height = _picture_size(path, directory - 1)
    return SheetFile(
        "tiff", len(directories), chosen, width, height, directory=directory
    )


def _picture(path: Path, page: int) -> Any:
    try:
        more = {"page": page} if page else {}
        # Turned as its tag says: a telephone writes which way it was held.
        return pyvips.Image.new_from_file(str(path), **more).autorot()
    except pyvips.Error as error:
        raise PlanError(
            f"The file {path.name!r} cannot be read as a plan.",
            "A PDF, TIFF, JPEG, PNG, JPEG 2000 or WebP was expected.",
        ) from error


def _picture_size(path: Path, page: int) -> tuple[int, int]:
    image = _picture(path, page)
    _refuse_large(path, image.width, image.height)
    return int(image.width), int(image.height)
