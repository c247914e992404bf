"""Answer ``wherestood shelf``."""

from __future__ import annotations

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
from wherestood.cli.screen import say_json, say_page, warn
from wherestood.record.page import Section

if TYPE_CHECKING:
    from wherestood.dating.glass_store import GlassLot
    from wherestood.daybook.plate_store import StoreTold

__all__ = ["shelf"]


def shelf(
    plates: Annotated[
        int | None, typer.Option(metavar="N", help="How many plates, of one size.")
    ] = None,
    limit_kg: Annotated[
        float | None,
        typer.Option(
            metavar="KG", help="What the shelf may carry, as its maker states."
        ),
    ] = None,
    size: Annotated[
        str, typer.Option(metavar="SIZE", help='Their size: "whole plate", 216x165mm.')
    ] = "whole plate",
    thickness: Annotated[
        float | None,
        typer.Option(metavar="MM", help="Their thickness, mm; else by their kind."),
    ] = None,
    kind: Annotated[
        str, typer.Option(metavar="KIND", help="wet plate (2.5 mm) or dry plate (1.3).")
    ] = "dry plate",
    lot: Annotated[
        list[str] | None,
        typer.Option(
            metavar="N,SIZE[,MM]",
            help="Some plates of one size, as in 20,whole plate; repeat it for others.",
        ),
    ] = None,
    box: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Keep them in the daybook as this box."),
    ] = None,
    on: Annotated[
        str | None,
        typer.Option(metavar="SHELF", help="The shelf on which that box stands."),
    ] = None,
    put: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PLATE",
            help="Lay a plate of the daybook into that box; may be repeated.",
        ),
    ] = None,
    away: Annotated[
        bool, typer.Option("--away", help="Take that box out of the daybook.")
    ] = False,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Say what shelves of glass plates weigh, and how to handle them.

    Without plates it weighs what the daybook keeps: its boxes, shelf by shelf.
    """
    from wherestood.dating.glass_store import THICKNESS_MM
    from wherestood.daybook.plate_store import (
        Box,
        Lot,
        keep_box,
        read_lot,
        store_told,
        take_away,
    )
    from wherestood.errors import InputError

    if kind not in THICKNESS_MM:
        raise InputError(
            f"No kind of glass plate is called {kind!r}.",
            f"Choose one of: {', '.join(THICKNESS_MM)}.",
        )
    lots = [read_lot(one) for one in lot or ()]
    if plates is not None:
        lots.insert(0, Lot(plates, size, thickness))
    if lots and box is None:
        if limit_kg is None:
            raise InputError(
                "What the shelf may carry is not said.",
                "Give --limit-kg, as the shelf's maker or an engineer states it.",
            )
        _say_lots([one.glass(kind) for one in lots], limit_kg, json=json)
        return
    if box is None and (put or on or limit_kg is not None):
        raise InputError(
            "No box is named.", "Name one: --box, with the shelf it stands on: --on."
        )
    with open_daybook(daybook) as book:
        if box is not None and away:
            take_away(book, box, person_named(person), why)
            warn(f"Took the box {box} out of the daybook.")
        elif box is not None:
            if on is None:
                raise InputError(
                    f"The shelf of the box {box!r} is not said.", "Name it: --on."
                )
            kept = Box(box, on, kind, tuple(lots))
            keep_box(book, kept, tuple(put or ()), limit_kg, person_named(person), why)
            warn(f"Kept the box {box} on the shelf {on}.")
        with book.reading() as session:
            told = store_told(session)
    say_json(_store_form(told)) if json else say_page(_store_words(told))


def _say_lots(lots: list[GlassLot], limit_kg: float, *, json: bool) -> None:
    from wherestood.dating.glass_store import CAUTIONS, plate_kg, shelf_load

    each = [plate_kg(one.long_mm, one.short_mm, one.thickness_mm) for one in lots]
    load = shelf_load(lots, limit_kg)
    if json:
        form: dict[str, Any] = {
            "glass_kg": round(load.glass_kg, 1),
            "whole_kg": round(load.whole_kg, 1),
            "limit_kg": limit_kg,
            "share": round(load.share, 3),
        }
        one = {"plate_kg": round(each[0], 3)} if len(lots) == 1 else {}
        say_json(one | form | {"plates_kg": [round(kg, 3) for kg in each]})
        return
    lines = [
        f"{_count(one.count)} of {one.long_mm:.0f} x {one.short_mm:.0f} mm, "
        f"{one.thickness_mm:g} mm thick: {kg:.2f} kg each."
        for one, kg in zip(lots, each, strict=True)
    ]
    words = load.words[:1].upper() + load.words[1:]
    say_page([Section("Weight", (*lines, f"{words}.")), Section("Handling", CAUTIONS)])


def _count(plates: int) -> str:
    return "1 plate" if plates == 1 else f"{plates} plates"


def _store_words(told: StoreTold) -> list[Section]:
    from wherestood.dating.glass_store import CAUTIONS

    sections = []
    for one in told.shelves:
        lines = [
            f"{box.name}: {_count(box.plates)}, {box.glass_kg:.1f} kg of glass."
            for box in one.boxes
        ]
        lines.append(
            "What it may carry is not said: give --limit-kg with a box of it."
            if one.load is None
            else f"{one.load.words[:1].upper()}{one.load.words[1:]}."
        )
        sections.append(Section(f"Shelf {one.name}", tuple(lines)))
    if told.loose.plates or not told.shelves:
        loose = f"{_count(told.loose.plates)}, {told.loose.glass_kg:.1f} kg of glass."
        sections.append(Section("In no box", (loose,)))
    if told.left_out:
        sections.append(Section("Not weighed", told.left_out))
    return [*sections, Section("Handling", CAUTIONS)]


def _store_form(told: StoreTold) -> dict[str, Any]:
    return {
        "shelves": [
            {
                "shelf": one.name,
                "boxes": [_box_form(box.name, box) for box in one.boxes],
                "glass_kg": round(sum(box.glass_kg for box in one.boxes), 2),
                "whole_kg": None if one.load is None else round(one.load.whole_kg, 2),
                "limit_kg": None if one.load is None else one.load.limit_kg,
                "share": None if one.load is None else round(one.load.share, 3),
            }
            for one in told.shelves
        ],
        "in_no_box": _box_form(None, told.loose),
        "not_weighed": list(told.left_out),
    }


def _box_form(name: str | None, box: Any) -> dict[str, Any]:
    return {
        "box": name,
        "plates": box.plates,
        "glass_kg": round(box.glass_kg, 2),
    }
