"""Write into a bag what a reader needs who has not got the program.

A page that says where things are, tables of originals, answers and decisions, and the
page of words of every answer: tag files of the bag (RFC 8493, section 2.2.4), covered
by its checksums and no part of the daybook.
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
from wherestood.daybook.tables import Decision, Fix, Plate, Scan

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
