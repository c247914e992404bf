"""Answer ``wherestood plans take``, ``picture`` and ``trace``."""

from __future__ import annotations

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
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, stages, warn
from wherestood.errors import PlanError

if TYPE_CHECKING:
    from wherestood.daybook.plan_traced import TracedThing

__all__ = ["PlanKey", "picture", "take", "trace"]

PlanKey = Annotated[str, typer.Argument(metavar="PLAN", help="The plan's key.")]


def take(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="PDF, TIFF, JPEG, PNG, JPEG 2000.")
    ],
    page: Annotated[
        int | None, typer.Option(metavar="N", help="Which page, where there are more.")
    ] = None,
    page_ppi: Annotated[
        float | None,
        typer.Option(metavar="N", help="Pixels to the inch of a PDF's page; 300."),
    ] = None,
    title: Annotated[str | None, typer.Option(metavar="WORDS")] = None,
    date: Annotated[
        str | None, typer.Option(metavar="DATE", help="Its date: 1871, 1870/1880.")
    ] = None,
    place: Annotated[
        bool,
        typer.Option(
            "--place/--no-place", help="Whether to believe where its file says it lies."
        ),
    ] = True,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Take an old plan in: a page of a PDF or TIFF, a picture, a georeferenced file."""
    from wherestood.daybook.plan_files import take_plan

    with open_daybook(daybook) as book, stages() as shown:
        taken = take_plan(
            book, file, person_named(person), title=title, date=date, page=page,
            page_ppi=page_ppi, must_lie=False, place=place, why=why, progress=shown,
        )  # fmt: skip
    sheet = taken.sheet
    if json:
        say_json(
            {
                "key": taken.key,
                "page": sheet.page,
                "pages": sheet.pages,
                "width_px": sheet.width_px,
                "height_px": sheet.height_px,
                "page_ppi": sheet.page_ppi,
                "box_deg": list(taken.box_deg) if taken.box_deg else None,
                "notes": list(taken.notes),
            }
        )
        return
    which = f", page {sheet.page} of {sheet.pages}" if sheet.pages > 1 else ""
    say(
        f"Took {file.name}{which} in as {taken.key}: {sheet.width_px} x "
        f"{sheet.height_px} px."
    )
    for note in taken.notes:
        warn(f"Note: {note}")
    if taken.box_deg is None:
        say(
            "It does not say where it lies. Read pixels of its corners on the picture "
            f"that wherestood plans picture {taken.key} makes, then pin it: "
            f"wherestood plans pin {taken.key} --pins FILE.csv"
        )
    else:
        say("It lies where its file says, which nobody has checked: see its pins.")


def picture(plan: PlanKey, daybook: DaybookFolder = None, json: AsJson = False) -> None:
    """Draw a plan's sheet upright, as its pixels are counted, into out/plans."""
    from wherestood.daybook import find
    from wherestood.daybook.plan_copies import sheet_copy
    from wherestood.daybook.tables import Plan

    with open_daybook(daybook) as book:
        with book.reading() as session:
            row = find(session, Plan, plan)
        file = sheet_copy(book, row)
    if json:
        say_json({"file": str(file)})
    else:
        say(f"Drew {plan} as {file}")


def trace(
    plan: PlanKey,
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE.csv",
            help="What was followed: thing, what, shape, drawn, x_px, y_px; a row a "
            "point.",
        ),
    ],
    from_year: Annotated[
        str | None,
        typer.Option("--existed-from", metavar="DATE", help="Since when all stood."),
    ] = None,
    to_year: Annotated[
        str | None,
        typer.Option("--existed-to", metavar="DATE", help="Until when all stood."),
    ] = None,
    source: Annotated[
        str | None, typer.Option(metavar="KEY", help="Key of the source of all.")
    ] = None,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Make features of what was traced from a pinned plan, with their error."""
    from wherestood.daybook.plan_traced import trace_plan

    things = _things(file)
    fields = {"existed-from": from_year, "existed-to": to_year, "source": source}
    with open_daybook(daybook) as book:
        made = trace_plan(
            book, plan, things, person_named(person), why=why,
            fields={name: one for name, one in fields.items() if one is not None},
        )  # fmt: skip
    if json:
        say_json(made)
        return
    for one in made:
        say(
            f"Added feature {one['key']}: {one['what']}, {one['drawn']}, to "
            f"{one['sd_m']:.1f} m beside the plan's shared shift."
        )


def _things(path: Path) -> list[TracedThing]:
    """Read what was traced, a row a point."""
    from wherestood.daybook.plan_traced import TracedThing
    from wherestood.daybook.sheets import read_sheet

    needed = ("thing", "what", "shape", "drawn", "x_px", "y_px")
    sheet = read_sheet(path)
    if missing := set(needed) - set(sheet.columns):
        raise PlanError(
            f"The file {path.name!r} lacks the columns {', '.join(sorted(missing))}.",
            f"It has {', '.join(needed)}, and drawn_sd_m if known; a row a point.",
        )
    found: dict[str, dict[str, Any]] = {}
    for row in sheet.rows:
        said = {k: v.strip() for k, v in row.values.items() if v}
        try:
            point = [float(said["x_px"]), float(said["y_px"])]
            sd = float(said["drawn_sd_m"]) if said.get("drawn_sd_m") else None
        except (KeyError, ValueError) as error:
            raise PlanError(
                f"Row {row.number} of {path.name!r} holds a place that is no number.",
                "Give pixels of the sheet.",
            ) from error
        name = said.get("thing", "")
        # What a thing is stands in its first row; the others may leave it out.
        thing = found.setdefault(name, {"points_px": [], "drawn_sd_m": sd, **said})
        thing["points_px"].append(point)
    return [
        TracedThing(
            what=thing.get("what", ""), shape=thing.get("shape", ""),
            points_px=thing["points_px"], drawn=thing.get("drawn", ""),
            drawn_sd_m=thing["drawn_sd_m"], name=name,
        )
        for name, thing in found.items()
    ]  # fmt: skip
