"""Write into a bag what a reader needs who has not got the program.

A page that says where things are, tables of originals, answers, decisions, dates and
what was tried, and the page of words of every answer: tag files of the bag (RFC 8493,
section 2.2.4), covered by its checksums and no part of the daybook.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from importlib import resources
from importlib.metadata import version
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.counted import counted
from wherestood.daybook.originals.names import safe_name
from wherestood.daybook.records import one_line
from wherestood.daybook.report_evidence import why_removed
from wherestood.daybook.tables import (
    Dating,
    Decision,
    Evidence,
    Fix,
    Lead,
    Mark,
    Plate,
    Scan,
    Source,
    Statement,
)

__all__ = ["write_readme"]

FIXES = "fixes"
#: What a program for tables would take for a formula: written as words.
_FORMULA = ("=", "+", "-", "@")


def write_readme(
    session: Session, bag: Path, inside: dict[str, str], now: datetime
) -> None:
    """Write the page, the tables and the answers' words beside a bag's data.

    Parameters
    ----------
    session : Session
        Of the daybook.
    bag : Path
        The bag's folder.
    inside : dict of str to str
        Where files that were left outside the daybook lie in the bag, by the name that
        the daybook has for them.
    now : datetime
        When it is made.
    """
    plates = {
        one.id: one
        for one in session.scalars(
            select(Plate).where(Plate.withdrawn.is_(None)).order_by(Plate.key)
        )
    }
    originals = _table(
        bag / "originals.csv",
        ("plate", "title", "copy", "file", "name when it came", "sha256", "set aside"),
        _originals(session, plates, inside),
    )
    fixes = _table(
        bag / "fixes.csv",
        ("plate", "title", "answer", "made", "verdict", "near enough, m", "longitude",
         "latitude", "height, m", "give or take east, m", "give or take north, m",
         "elsewhere", "page of words", "set aside"),
        _fixes(session, plates, bag),
    )  # fmt: skip
    _table(
        bag / "decisions.csv",
        ("plate", "title", "about", "concluded", "on conditions", "why", "by", "when",
         "replaces"),
        _decisions(session, plates),
    )  # fmt: skip
    _table(
        bag / "dates.csv",
        ("plate", "title", "what was dated", "date", "in these words",
         "how probable it is right", "source", "set aside"),
        _dates(session, plates),
    )  # fmt: skip
    _table(
        bag / "tried.csv",
        ("plate", "title", "kind", "what", "where", "how it ended", "what came of it",
         "why"),
        (*_leads(session, plates), *_set_aside(session, plates)),
    )  # fmt: skip
    words = resources.files("wherestood.daybook.handover").joinpath("readme.txt")
    (bag / "README.txt").write_text(
        words.read_text("utf-8").format(
            made=now.astimezone(UTC).strftime("%Y-%m-%d"),
            version=version("wherestood"),
            plates=counted(len(plates), "plate"),
            originals=counted(originals, "original"),
            fixes=counted(fixes, "answer"),
        ),
        "utf-8",
    )


def _originals(
    session: Session, plates: dict[str, Plate], inside: dict[str, str]
) -> Iterable[Sequence[Any]]:
    wanted = select(Scan).where(Scan.withdrawn.is_(None)).order_by(Scan.key)
    for scan in session.scalars(wanted):
        plate = plates.get(scan.plate_id)
        if plate is not None:
            yield (
                plate.key, plate.title, scan.key,
                f"data/{inside.get(scan.file, scan.file)}", scan.original_name,
                scan.sha256, _yes(scan.removed),
            )  # fmt: skip


def _fixes(
    session: Session, plates: dict[str, Plate], bag: Path
) -> Iterable[Sequence[Any]]:
    wanted = select(Fix).where(Fix.withdrawn.is_(None)).order_by(Fix.made, Fix.key)
    for fix in session.scalars(wanted):
        plate = plates.get(fix.plate_id)
        if plate is None:
            continue
        page = ""
        if fix.words:
            page = f"{FIXES}/{safe_name(plate.key)} {safe_name(fix.key)}.txt"
            (bag / FIXES).mkdir(exist_ok=True)
            (bag / page).write_text(fix.words, "utf-8")
        yield (
            plate.key, plate.title, fix.key, fix.made, fix.verdict, fix.near_enough_m,
            fix.lon_deg, fix.lat_deg, fix.height_m, fix.sd_east_m, fix.sd_north_m,
            fix.elsewhere, page, _yes(fix.removed),
        )  # fmt: skip


def _decisions(session: Session, plates: dict[str, Plate]) -> Iterable[Sequence[Any]]:
    wanted = select(Decision).where(Decision.withdrawn.is_(None))
    for one in session.scalars(wanted.order_by(Decision.decided, Decision.key)):
        plate = plates.get(one.plate_id)
        if plate is None:
            continue
        fix = session.get(Fix, one.fix_id) if one.fix_id else None
        before = session.get(Decision, one.supersedes_id) if one.supersedes_id else None
        yield (
            plate.key, plate.title, fix.key if fix else "a proposed position",
            one.conclusion, one.conditions, one.words, one.decided_by, one.decided,
            before.key if before else "",
        )  # fmt: skip


def _dates(session: Session, plates: dict[str, Plate]) -> Iterable[Sequence[Any]]:
    """Give what was written of when: the catalogue's words, then every date kept."""
    for plate in plates.values():
        if plate.date_words:
            yield (plate.key, plate.title, "", "", plate.date_words, "",
                   "the catalogue", "")  # fmt: skip
    wanted = select(Dating).where(Dating.withdrawn.is_(None)).order_by(Dating.key)
    for one in session.scalars(wanted):
        plate_of = plates.get(one.plate_id)
        if plate_of is not None:
            yield (
                plate_of.key, plate_of.title, one.of, one.edtf, one.words, one.trust,
                _cited(session, one.source_id), _yes(one.removed),
            )  # fmt: skip


def _leads(session: Session, plates: dict[str, Plate]) -> Iterable[Sequence[Any]]:
    """Give what was looked up or asked, found or not, and what is still to do."""
    wanted = select(Lead).where(Lead.withdrawn.is_(None), Lead.removed.is_(False))
    for one in session.scalars(wanted.order_by(Lead.key)):
        plate = plates.get(one.plate_id or "")
        yield (
            plate.key if plate else "", plate.title if plate else "", "lead", one.what,
            one.where, one.state, one.outcome, one.because,
        )  # fmt: skip


def _set_aside(session: Session, plates: dict[str, Plate]) -> Iterable[Sequence[Any]]:
    """Give evidence that does not count any more, and why."""
    kinds: tuple[Any, ...] = (Mark, Evidence, Statement)
    for kind in kinds:
        wanted = select(kind).where(kind.withdrawn.is_(None), kind.removed.is_(True))
        for one in session.scalars(wanted.order_by(kind.key)):
            plate = plates.get(one.plate_id or "")
            if plate is not None:
                what = str(getattr(one, "kind", None) or one.singular).replace("_", " ")
                yield (
                    plate.key, plate.title, what, f"{one.key} {one_line(one)}".strip(),
                    "", "set aside", "", why_removed(session, one),
                )  # fmt: skip


def _cited(session: Session, source_id: str | None) -> str:
    source = session.get(Source, source_id) if source_id else None
    return "" if source is None or source.withdrawn else source.citation


def _yes(told: bool) -> str:
    return "yes" if told else ""


def _table(path: Path, head: Sequence[str], rows: Iterable[Sequence[Any]]) -> int:
    """Write a table, if it has rows, and return how many."""
    held = [[_cell(one) for one in row] for row in rows]
    with path.open("x", encoding="utf-8-sig", newline="") as file:
        csv.writer(file).writerows([head, *held])
    return len(held)


def _cell(value: Any) -> Any:
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return "" if value is None else value
