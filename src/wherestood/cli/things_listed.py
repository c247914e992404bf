"""Make the command that lists items of one kind."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from wherestood.cli.book import DaybookFolder, open_daybook
from wherestood.cli.fields_typed import Command, many, without
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json
from wherestood.cli.things_shown import say_items
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook.tables import Item

__all__ = ["lister"]


def lister(kind: type[Item]) -> Command:
    """Return the command that lists items of a kind."""
    has_plate = hasattr(kind, "plate_id")

    def command(
        words: Annotated[
            str,
            typer.Option(metavar="WORDS", help="Words that all stand in it, or on it."),
        ] = "",
        box: Annotated[
            str | None,
            typer.Option(metavar="W,S,E,N", help="Where it lies, degrees."),
        ] = None,
        plate: Annotated[
            str | None, typer.Option(metavar="KEY", help="The plate it concerns.")
        ] = None,
        where: Annotated[
            list[str] | None,
            typer.Option(metavar="FIELD=VALUE", help="What a field holds; repeatable."),
        ] = None,
        removed: Annotated[
            bool, typer.Option("--removed", help="Those that were set aside.")
        ] = False,
        limit: Annotated[
            int | None, typer.Option(metavar="N", min=1, help="At most so many.")
        ] = None,
        daybook: DaybookFolder = None,
        json: AsJson = False,
    ) -> None:
        from wherestood.daybook.choose import Wanted, page
        from wherestood.daybook.keys import find
        from wherestood.daybook.records import records_of
        from wherestood.daybook.tables import Plate

        with open_daybook(daybook) as book, book.reading() as session:
            wanted = Wanted(
                words=words,
                box=_read_box(box),
                plate_id=find(session, Plate, plate).id if plate else None,
                values=_read_where(session, kind, where or []),
                removed=removed,
                limit=limit,
            )
            items, total = page(session, kind, wanted)
            if json:
                say_json(records_of(session, items))
                return
            say_items(session, kind, items, total)
            if box and not items and (kind is Plate or hasattr(kind, "plate_id")):
                say(
                    "A plate lies where its newest fix puts the camera; one without a "
                    "fix is in no box."
                )

    command.__doc__ = f"List {many(kind)}: all, or those that are asked for."
    if not has_plate:
        without(command, "plate")
    return command


def _read_box(text: str | None) -> tuple[float, float, float, float] | None:
    if text is None:
        return None
    try:
        west, south, east, north = (float(part) for part in text.split(","))
    except ValueError as error:
        raise InputError(
            f"The box {text!r} cannot be read; four numbers were expected.",
            "Write it as WEST,SOUTH,EAST,NORTH in degrees, as in 8.4,46.0,8.6,46.2.",
        ) from error
    if not (south <= north and max(abs(south), abs(north)) <= 90):
        raise InputError(
            f"The box {text!r} has its south above its north, or is off the earth.",
            "Write it as WEST,SOUTH,EAST,NORTH in degrees.",
        )
    return west, south, east, north


def _read_where(session: Any, kind: type[Item], told: list[str]) -> dict[str, Any]:
    from wherestood.daybook.counted import an
    from wherestood.daybook.records import fields_of, option_of, set_fields

    columns = fields_of(kind)
    found: dict[str, Any] = {}
    for part in told:
        name, equals, value = part.partition("=")
        # As an option, a list or a file calls it: held-by, held by, held_by.
        name = option_of(name.strip().casefold().replace(" ", "_"))
        if not equals or name not in columns:
            raise InputError(
                f"{part!r} does not say what a field of {an(kind.singular)} holds.",
                f"Write FIELD=VALUE; fields are {', '.join(columns)}.",
            )
        choices = columns[name].info.get("choices")
        if choices and value not in choices:
            raise InputError(
                f"The {name} of {an(kind.singular)} is never {value!r}.",
                f"Choose one of: {', '.join(choices)}.",
            )
        passing = kind()
        set_fields(session, passing, {name: value})
        found[columns[name].key] = getattr(passing, columns[name].key)
    return found
