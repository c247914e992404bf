"""Write what is handed out as tables: CSV, and one workbook (XLSX)."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font

from wherestood.record.atomic import write_text_atomically
from wherestood.record.export.handed import HandedOut
from wherestood.record.export.layers import Cell, Layer

__all__ = ["Table", "tables_of", "write_csv", "write_xlsx"]

_LONGEST_CELL = 32_767  # ECMA-376, as spreadsheets implement it


@dataclass(frozen=True)
class Table:
    """Hold a table.

    Attributes
    ----------
    name : str
    columns : tuple of str
    rows : list of lists of cells
        Numbers as numbers, None where nothing is said.
    """

    name: str
    columns: tuple[str, ...]
    rows: list[list[Cell]]


def tables_of(handed: HandedOut, layers: Sequence[Layer]) -> tuple[Table, ...]:
    """Return the catalogue of the plates, and the layers with their places.

    Points have columns of longitude and latitude; other shapes are well-known text.
    """
    columns: list[str] = []
    for plate in handed.plates:
        columns += [name for name in plate.row if name not in columns]
    more = ("exposed", "exposed by", "precision", "withheld", "credits")
    rows: list[list[Cell]] = [
        [
            *(plate.row.get(name, "") for name in columns),
            plate.date_edtf,
            plate.date_basis,
            plate.precision,
            "; ".join(plate.withheld),
            " ".join(plate.credits),
        ]
        for plate in handed.plates
    ]
    catalogue = Table("plates", (*columns, *more), rows)
    return (catalogue, *(_of_layer(layer) for layer in layers if layer.rows))


def _of_layer(layer: Layer) -> Table:
    names = [column.name for column in layer.columns]
    rows: list[list[Cell]] = []
    for row in layer.rows:
        where: list[Cell] = [None, None]
        if layer.geometry == "Point":
            if row.shape is not None:
                where = [row.shape.x, row.shape.y]
        else:
            where = [None if row.shape is None else row.shape.wkt]
        rows.append([*(row.cells[name] for name in names), *where])
    place = ("lon_deg", "lat_deg") if layer.geometry == "Point" else ("wkt",)
    return Table(layer.name, (*names, *place), rows)


def write_csv(folder: Path, tables: Sequence[Table]) -> list[Path]:
    """Write a file for each table: UTF-8 with its mark, words in quotation marks."""
    written = []
    for table in tables:
        stream = io.StringIO()
        writer = csv.writer(stream, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
        writer.writerow(table.columns)
        for row in table.rows:
            writer.writerow(["" if cell is None else cell for cell in row])
        path = folder / f"{table.name}.csv"
        write_text_atomically(path, "\ufeff" + stream.getvalue())
        written.append(path)
    return written


def write_xlsx(path: Path, tables: Sequence[Table]) -> None:
    """Write a workbook with a sheet for each table.

    Words are marked as words, so that none becomes a formula; those too long for a
    cell are cut, and say so.
    """
    book = Workbook(write_only=True)
    for table in tables:
        sheet = book.create_sheet(table.name)
        sheet.freeze_panes = "B2"
        head = []
        for name in table.columns:
            cell = WriteOnlyCell(sheet, name)
            cell.font = Font(bold=True)
            head.append(cell)
        sheet.append(head)
        for row in table.rows:
            sheet.append([_cell(sheet, value) for value in row])
    passing = path.with_name(f".{path.name}.passing")
    try:
        book.save(passing)
        passing.replace(path)
    finally:
        passing.unlink(missing_ok=True)


def _cell(sheet: object, value: Cell) -> WriteOnlyCell:
    if not isinstance(value, str):
        return WriteOnlyCell(sheet, value)
    if len(value) > _LONGEST_CELL:
        value = f"{value[: _LONGEST_CELL - 40]} ... (cut; whole in the CSV)"
    cell = WriteOnlyCell(sheet, value)
    cell.data_type = "s"
    return cell
