"""Know rows of Dublin Core again that say what the daybook would give out itself."""

from __future__ import annotations

from sqlalchemy.orm import Session

from wherestood.daybook.catalogue.dublin_core import COLUMNS, dublin_core_cells
from wherestood.daybook.catalogue.give import catalogue_rows
from wherestood.daybook.sheets import Sheet

__all__ = ["given_out_so"]


def given_out_so(session: Session, sheet: Sheet) -> dict[int, str]:
    """Return plates whose Dublin Core a row holds as the daybook gives it out.

    Dublin Core has fewer elements than the catalogue has columns, so a row of it cannot
    be compared column by column: a description and a note both are ``dc:description``.

    Returns
    -------
    dict of int to str
        The plate's key by the row's number; empty if the file has other columns.
    """
    if not set(sheet.columns) <= set(COLUMNS) or "dc:identifier" not in sheet.columns:
        return {}
    there = {}
    for row in catalogue_rows(session):
        cells = dublin_core_cells(row)
        there[row["accession number"]] = {c: cells[c].strip() for c in sheet.columns}
    return {
        row.number: row.values["dc:identifier"]
        for row in sheet.rows
        if there.get(row.values["dc:identifier"]) == row.values
    }
