"""Give the catalogue out as rows of words, which can be taken in again."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.catalogue.plan import PLATE_COLUMNS, RIGHT_COLUMNS
from wherestood.daybook.tables import Maker, Plate, Right, Scan

__all__ = ["GIVEN_COLUMNS", "catalogue_rows"]

#: Columns given out, in order; each is known by its name when it is taken in.
GIVEN_COLUMNS = (
    "accession number", "title", "description", "maker", "date", "place", "held by",
    "collection", "subjects", "negative number", "inscription", "process", "size",
    "rights", "rights holder", "licence", "credit", "note", "file",
)  # fmt: skip
_AT_ONCE = 1000


def catalogue_rows(session: Session) -> Iterator[dict[str, str]]:
    """Give every plate that was neither set aside nor withdrawn, by its key.

    Yields
    ------
    dict of str to str
        Words by the names in `GIVEN_COLUMNS`. No place that the program found is
        among them: a catalogue goes out further than a researcher's answer may.
    """
    makers = {maker.id: maker.name for maker in session.scalars(select(Maker))}
    image = select(Right).where(
        Right.about_table == "plates", Right.what == "image", Right.removed.is_(False)
    )
    rights = {right.about_id: right for right in session.scalars(image)}
    files: dict[str, list[str]] = {}
    named = select(Scan.plate_id, Scan.original_name).where(Scan.removed.is_(False))
    for plate_id, name in session.execute(named.order_by(Scan.key)):
        files.setdefault(plate_id, []).append(name or "")
    wanted = select(Plate).where(Plate.removed.is_(False), Plate.withdrawn.is_(None))
    plates = session.scalars(
        wanted.order_by(Plate.key).execution_options(yield_per=_AT_ONCE)
    )
    for plate in plates:
        right = rights.get(plate.id)
        row = dict.fromkeys(GIVEN_COLUMNS, "")
        row["accession number"] = plate.key
        for meaning, column in PLATE_COLUMNS.items():
            row[meaning] = getattr(plate, column) or ""
        for meaning, column in RIGHT_COLUMNS.items():
            row[meaning] = (getattr(right, column) if right else None) or ""
        row["maker"] = makers.get(plate.maker_id or "", "")
        row["subjects"] = "; ".join(plate.subjects or ())
        row["process"] = plate.process or ""
        row["file"] = "; ".join(files.get(plate.id, ()))
        yield row
