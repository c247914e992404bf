"""Write a field sheet: pages to print, a page for a phone, waypoints."""

from __future__ import annotations

import io
import tempfile
from pathlib import Path

import typst
from matplotlib.figure import Figure

from wherestood.errors import InputError
from wherestood.ground.mapping import Mapping
from wherestood.plate.scan import Plate
from wherestood.record.atomic import folder_at_the_end, write_text_atomically
from wherestood.visit.field_sheet import FieldSheet
from wherestood.visit.filled_sheet import blank_sheet
from wherestood.visit.gpx import gpx_text
from wherestood.visit.sheet_page import phone_page, typst_source
from wherestood.visit.sheet_pictures import map_picture, view_picture

__all__ = ["SHEET_FILES", "write_sheet"]

SHEET_FILES = (
    "field-sheet.pdf",
    "field-sheet.html",
    "field-sheet.gpx",
    "field-sheet.csv",
)


def write_sheet(
    folder: Path, sheet: FieldSheet, mapping: Mapping, plate: Plate | None = None
) -> tuple[Path, ...]:
    """Write the sheet, all of its files or none.

    Parameters
    ----------
    folder : Path
        Where to.
    sheet : FieldSheet
    mapping : Mapping
        Its terrain.
    plate : Plate, optional
        The scan: without it there is no view.

    Raises
    ------
    InputError
        If the scan is of another size, or the folder cannot be written.
    """
    if plate is not None and (plate.width_px, plate.height_px) != mapping.scan_px:
        raise InputError(
            f"The scan is {plate.width_px} x {plate.height_px} px, and the fix was "
            f"made with one of {mapping.scan_px[0]} x {mapping.scan_px[1]} px.",
            "Name the scan that the fix was made with.",
        )
    pictures = [_png(map_picture(sheet, mapping))]
    if plate is not None:
        pictures.append(_png(view_picture(sheet, plate)))
    names = ("map.png", "view.png")[: len(pictures)]
    with tempfile.TemporaryDirectory() as passing:
        for name, picture in zip(names, pictures, strict=True):
            (Path(passing) / name).write_bytes(picture)
        source = Path(passing) / "sheet.typ"
        source.write_text(typst_source(sheet, names), encoding="utf-8")
        pages: bytes = typst.compile(str(source), ignore_system_fonts=True)
    with folder_at_the_end(folder) as made:
        (made / SHEET_FILES[0]).write_bytes(pages)
        write_text_atomically(made / SHEET_FILES[1], phone_page(sheet, pictures))
        frame = mapping.ground.model.terrain.frame
        write_text_atomically(made / SHEET_FILES[2], gpx_text(sheet, frame))
        gaps = [(pair.far.name, pair.near.name) for pair in sheet.pairs]
        write_text_atomically(made / SHEET_FILES[3], blank_sheet(gaps, str(sheet.day)))
    return tuple(folder / name for name in SHEET_FILES)


def _png(figure: Figure) -> bytes:
    held = io.BytesIO()
    figure.savefig(held, format="png")
    return held.getvalue()
