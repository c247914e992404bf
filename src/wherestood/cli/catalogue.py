"""Answer ``wherestood catalogue-in`` and ``catalogue-out``."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.handover import say_left_out
from wherestood.cli.options import AsJson
from wherestood.cli.refusals import refusals_as_json, say_refusals, write_refusals
from wherestood.cli.screen import say, say_json, stages, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook import Daybook
    from wherestood.daybook.catalogue import CataloguePlan
    from wherestood.daybook.public import LeftOut
    from wherestood.daybook.sheets import Sheet

__all__ = ["ColumnsTold", "Delimiter", "Encoding", "Report", "catalogue_in",
           "catalogue_out", "columns_told"]  # fmt: skip

_SHOWN = 20
ColumnsTold = Annotated[
    list[str] | None,
    typer.Option(
        "--column",
        metavar="COLUMN=MEANING",
        help="What a column means; nothing after = leaves it alone. Repeatable.",
    ),
]
Encoding = Annotated[
    str | None,
    typer.Option(
        metavar="NAME", help="Encoding of a CSV file; found out or asked for."
    ),
]
Delimiter = Annotated[
    str | None,
    typer.Option(metavar="C", help="What parts its cells; found out if not said."),
]
Report = Annotated[
    Path | None,
    typer.Option(metavar="FILE", help="Write every row not taken to a CSV or XLSX."),
]


def columns_told(texts: list[str] | None) -> dict[str, str]:
    """Read ``COLUMN=MEANING`` texts."""
    told = {}
    for text in texts or ():
        column, mark, meaning = text.rpartition("=")
        if not mark or not column:
            raise InputError(
                f"What a column means was given as {text!r}.",
                'Write it as COLUMN=MEANING, as in "Inv. No.=key".',
            )
        told[column.strip()] = meaning.strip()
    return told


def catalogue_in(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="CSV, XLSX or Dublin Core XML.")
    ],
    column: ColumnsTold = None,
    change: Annotated[
        bool, typer.Option("--change", help="Change plates that are there already.")
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would happen, row by row.")
    ] = False,
    report: Report = None,
    sheet: Annotated[
        str | None, typer.Option(metavar="NAME", help="Which sheet of a workbook.")
    ] = None,
    encoding: Encoding = None,
    delimiter: Delimiter = None,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Take a catalogue in: all its rows in one act, or none."""
    from wherestood.daybook.catalogue import read_dublin_core, take_catalogue
    from wherestood.daybook.sheets import read_sheet

    if file.suffix.lower() == ".xml":
        table = read_dublin_core(file)
    else:
        table = read_sheet(file, encoding=encoding, delimiter=delimiter, sheet=sheet)
    with open_daybook(daybook) as book, stages() as shown:
        plan = _planned(book, table, columns_told(column), change, shown)
        if not dry_run:
            words = why or f"catalogue {file.name}"
            take_catalogue(
                book, plan, table.columns, person_named(person), words, shown
            )
    if json:
        say_json(_as_json(table, plan, dry_run))
        if report is not None:
            write_refusals(report, plan.refused)
        return
    _say(table, plan, dry_run)
    say_refusals(plan.refused, report)


def _planned(
    book: Daybook, table: Sheet, told: dict[str, str], change: bool, shown: Any
) -> CataloguePlan:
    from wherestood.daybook.catalogue import plan_for, remembered_columns
    from wherestood.daybook.catalogue.columns import tell_columns

    with book.reading() as session:
        remembered = remembered_columns(session, table.columns)
        columns = tell_columns(table.columns, told, remembered)
        return plan_for(session, table, columns, change=change, progress=shown)


def _as_json(table: Sheet, plan: CataloguePlan, dry_run: bool) -> dict[str, Any]:
    return {
        "file": table.name,
        "read": list(table.notes),
        "columns": plan.columns.as_told(),
        "dry_run": dry_run,
        "add": plan.count("add"),
        "change": plan.count("change"),
        "same": plan.count("same"),
        "rows": [
            {
                "where": entry.where,
                "plate": entry.key,
                "doing": entry.doing,
                "changes": {k: list(pair) for k, pair in entry.changes.items()},
            }
            for entry in plan.entries
            if entry.doing != "same"
        ],
        "refused": refusals_as_json(plan.refused),
    }


def _say(table: Sheet, plan: CataloguePlan, dry_run: bool) -> None:
    for note in table.notes:
        say(f"{table.name}: {note}")
    for meaning, name in plan.columns.by_meaning.items():
        say(f"  {name} -> {meaning}")
    if plan.columns.unused:
        say(f"  kept as they came: {', '.join(plan.columns.unused)}")
    told = [entry for entry in plan.entries if entry.doing != "same"]
    for entry in told[:_SHOWN] if dry_run else ():
        say(f"{entry.where}: would {entry.doing} plate {entry.key}")
        for column, (before, after) in entry.changes.items():
            say(f"    {column}: {before!r} becomes {after!r}")
    if dry_run and len(told) > _SHOWN:
        say(f"... and {len(told) - _SHOWN} more")
    would = "would be " if dry_run else ""
    say(
        f"Plates {would}added: {plan.count('add')}, {would}changed: "
        f"{plan.count('change')}, the same: {plan.count('same')}."
    )


def catalogue_out(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="Ends in .csv, .xlsx or .xml.")
    ],
    dublin_core: Annotated[
        bool,
        typer.Option("--dublin-core", help="Write a CSV's columns as Dublin Core."),
    ] = False,
    public: Annotated[
        bool,
        typer.Option(
            "--public", help="A public copy: what gives restricted places away is out."
        ),
    ] = False,
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Write the catalogue of all plates; places that were found are left out."""
    from wherestood.daybook.catalogue import catalogue_rows
    from wherestood.daybook.counted import counted
    from wherestood.daybook.precision import restricted_plates
    from wherestood.daybook.public import public_rows

    left_out: list[LeftOut] = []
    with open_daybook(daybook) as book, book.reading() as session:
        if public:
            told = list(public_rows(session))
            rows = [row for row, _ in told]
            left_out = [one for _, out in told for one in out]
        else:
            rows = list(catalogue_rows(session))
        limits = restricted_plates(session).values()
    _write(file, rows, dublin_core=dublin_core, names_of_files=not public)
    kind = "public copy" if public else "full, restricted"
    if json:
        say_json(
            {
                "file": str(file),
                "kind": kind,
                "plates": len(rows),
                "left_out": [asdict(one) for one in left_out],
            }
        )
        return
    say(f"Wrote {counted(len(rows), 'plate')} to {file} ({kind}).")
    if not rows:
        warn("Note: there are no plates in this daybook.")
    elif file.suffix.lower() == ".csv":
        warn(
            "Note: tell a spreadsheet to take quoted values as words, or it changes "
            "numbers such as 1987.10; XLSX needs no telling."
        )
    strict = sum(not one.is_exact for one in limits)
    if public:
        say_left_out(left_out)
    elif strict:
        warn(
            f"Note: of {counted(strict, 'plate')} the place may not be published as it "
            "is known; to hand it out, write it with --public."
        )


def _write(
    file: Path,
    rows: list[dict[str, str]],
    *,
    dublin_core: bool,
    names_of_files: bool,
) -> None:
    from wherestood.daybook.catalogue import write_dublin_core
    from wherestood.daybook.catalogue.dublin_core import COLUMNS, dublin_core_cells
    from wherestood.daybook.catalogue.give import GIVEN_COLUMNS
    from wherestood.daybook.sheets.write import write_sheet

    columns = [c for c in GIVEN_COLUMNS if names_of_files or c != "file"]
    if file.suffix.lower() == ".xml":
        write_dublin_core(file, rows)
    elif dublin_core:
        cells = [dublin_core_cells(row) for row in rows]
        write_sheet(file, COLUMNS, [[one[c] for c in COLUMNS] for one in cells])
    else:
        write_sheet(file, columns, [[row[c] for c in columns] for row in rows])
