"""Take a planned catalogue in: all its rows in one act, or none."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.catalogue.plan import CatalogueEntry, CataloguePlan
from wherestood.daybook.catalogue.remember import remember_columns
from wherestood.daybook.tables import Maker, Plate, Right
from wherestood.errors import DaybookError
from wherestood.progress import SILENT, Progress

__all__ = ["take_catalogue"]

_AT_ONCE = 1000


def take_catalogue(
    daybook: Daybook,
    plan: CataloguePlan,
    columns: Sequence[str],
    person: str,
    why: str = "",
    progress: Progress = SILENT,
) -> None:
    """Do what was planned.

    Parameters
    ----------
    daybook : Daybook
        Where.
    plan : CataloguePlan
        What was planned from its present state.
    columns : sequence of str
        All columns of the file, by which it is known again.
    person, why : str
        Who takes it in, and why.
    progress : Progress
        Told of every thousand rows.

    Raises
    ------
    DaybookError
        If the daybook was changed since it was planned.
    """
    doing = [entry for entry in plan.entries if entry.doing != "same"]
    progress.stage("taking the catalogue in", len(doing) // _AT_ONCE + 1)
    with daybook.writing(person, why) as session:
        makers = _makers(session, doing)
        plates = {plate.key: plate for plate in session.scalars(select(Plate))}
        for start in range(0, len(doing), _AT_ONCE):
            some = doing[start : start + _AT_ONCE]
            for entry in some:
                _write_plate(session, entry, plates, makers)
            session.flush()
            _write_rights(session, some, plates)
            session.flush()
            progress.advance()
        remember_columns(session, columns, plan.columns.as_told())


def _makers(session: Session, entries: Sequence[CatalogueEntry]) -> dict[str, str]:
    """Return each maker's id by name, adding those that are new."""
    there = select(Maker).where(Maker.removed.is_(False), Maker.withdrawn.is_(None))
    known = {maker.name: maker.id for maker in session.scalars(there)}
    for name in {entry.maker for entry in entries if entry.maker} - set(known):
        maker = Maker(name=name)
        session.add(maker)
        known[name] = maker.id
    session.flush()
    return known


def _write_plate(
    session: Session,
    entry: CatalogueEntry,
    plates: dict[str, Plate],
    makers: dict[str, str],
) -> None:
    values: dict[str, Any] = dict(entry.plate)
    if entry.maker:
        values["maker_id"] = makers[entry.maker]
    plate = plates.get(entry.key)
    if (plate is None) != (entry.doing == "add"):
        raise DaybookError(
            f"The plate {entry.key!r} was added or changed since this was planned; "
            "nothing was taken in.",
            "Do it again.",
        )
    if plate is None:
        plate = Plate(key=entry.key, **values)
        session.add(plate)
        plates[entry.key] = plate
        return
    for column, value in values.items():
        if getattr(plate, column) != value:
            setattr(plate, column, value)


def _write_rights(
    session: Session, entries: Sequence[CatalogueEntry], plates: dict[str, Plate]
) -> None:
    with_right = [entry for entry in entries if entry.right]
    changing = [plates[e.key].id for e in with_right if e.doing == "change"]
    wanted = select(Right).where(
        Right.about_id.in_(changing), Right.what == "image", Right.removed.is_(False)
    )
    there = {right.about_id: right for right in session.scalars(wanted)}
    for entry in with_right:
        plate_id = plates[entry.key].id
        right = there.get(plate_id)
        if right is None:
            session.add(
                Right(
                    about_table="plates",
                    about_id=plate_id,
                    plate_id=plate_id,
                    what="image",
                    **entry.right,
                )
            )
            continue
        for column, value in entry.right.items():
            if getattr(right, column) != value:
                setattr(right, column, value)
