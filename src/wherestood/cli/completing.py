"""Complete keys of items at the shell's prompt."""

from __future__ import annotations

import os

__all__ = ["MOST_OFFERED", "addresses_in", "plate_keys"]

MOST_OFFERED = 200


def addresses_in(table: str, incomplete: str) -> list[str]:
    """Return addresses of items in the daybook at hand that begin so.

    Parameters
    ----------
    table : str
        The items' table.
    incomplete : str
        What was typed of it.

    Notes
    -----
    Whatever goes wrong, nothing is offered: a prompt is no place for trouble.
    """
    from sqlalchemy import select
    from sqlalchemy.exc import SQLAlchemyError

    from wherestood.cli.book import nearest_daybook
    from wherestood.daybook import Daybook
    from wherestood.daybook.tables import ITEMS, Item, OnPlate, Plate
    from wherestood.errors import WherestoodError

    kind: type[Item] = ITEMS[table]
    key = kind.key  # type: ignore[attr-defined]
    try:
        folder = os.environ.get("WHERESTOOD_DAYBOOK") or nearest_daybook()
        with Daybook.open(folder) as book, book.reading() as session:
            told = Plate.key + "/" + key if issubclass(kind, OnPlate) else key
            wanted = select(told).select_from(kind)
            if issubclass(kind, OnPlate):
                wanted = wanted.join(Plate, Plate.id == kind.plate_id)
            begins = told.startswith(incomplete, autoescape=True)
            chosen = wanted.where(begins, kind.removed.is_(False)).order_by(told)
            return list(session.scalars(chosen.limit(MOST_OFFERED)))
    except (OSError, SQLAlchemyError, WherestoodError):
        return []


def plate_keys(incomplete: str) -> list[str]:
    """Return keys of plates in the daybook at hand that begin so."""
    return addresses_in("plates", incomplete)
