"""Make the commands that add items of one kind, and change them."""

from __future__ import annotations

import inspect
import json
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
from wherestood.cli.fields_typed import (
    COMMANDS,
    Command,
    addressed,
    many,
    typed_fields,
    with_argument,
    with_fields,
)
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, warn
from wherestood.errors import InputError

if TYPE_CHECKING:
    from wherestood.daybook.tables import Item

__all__ = ["adder", "changer"]


def adder(kind: type[Item]) -> Command:
    """Return the command that adds an item of a kind."""
    from wherestood.daybook.tables import About, OnPlate

    if issubclass(kind, About):
        return _adder_about(kind)
    on_plate = issubclass(kind, OnPlate)
    metavar = "PLATE[/KEY]" if on_plate else "KEY"
    told = "The plate, and its key there" if on_plate else "Its key"
    typed = Annotated[
        str | None,
        typer.Argument(metavar=metavar, help=f"{told}; given one unless told."),
    ]

    def command(
        address: Any,
        person: Person = None,
        why: Why = "",
        daybook: DaybookFolder = None,
        as_json: AsJson = False,
        **given: Any,
    ) -> None:
        from wherestood.daybook.change_items import add_item

        if address is not None and not address.strip():
            raise InputError(
                "The key is empty.", "Give one, or leave it out to have one given."
            )
        fields, who = _typed(kind, given), person_named(person)
        with open_daybook(daybook) as book:
            record = add_item(
                book, kind.__tablename__, fields, who, why, address=address or ""
            )
        _say_added(kind, record, as_json=as_json)
        note = record.get("note")
        # A date as written was carried to another calendar, or asks for its year.
        if not as_json and note and note != fields.get("note"):
            say(str(note))

    command.__doc__ = f"Add one to the {many(kind)}."
    default = inspect.Parameter.empty if on_plate else None
    return with_fields(with_argument(command, "address", typed, default), kind)


def _adder_about(kind: type[Item]) -> Command:
    def command(
        table: Annotated[
            str, typer.Argument(metavar="THINGS", help="Such as plates or informants.")
        ],
        address: Annotated[
            str, typer.Argument(metavar="ADDRESS", help="Which of them, by its key.")
        ],
        person: Person = None,
        why: Why = "",
        daybook: DaybookFolder = None,
        as_json: AsJson = False,
        **given: Any,
    ) -> None:
        from wherestood.daybook.change_items import add_item

        tables = {command: name for name, command in COMMANDS.items()}
        about = (tables.get(table, table), address)
        fields, who = typed_fields(kind, given), person_named(person)
        with open_daybook(daybook) as book:
            record = add_item(book, kind.__tablename__, fields, who, why, about=about)
        _say_added(kind, record, as_json=as_json)

    command.__doc__ = f"Add one to the {many(kind)}, about an item of any kind."
    return with_fields(command, kind)


def _typed(kind: type[Item], given: dict[str, Any]) -> dict[str, Any]:
    """Return the fields typed; of a file that says where to search, its content.

    A file may be gone when the plate's fix is asked for.
    """
    typed = typed_fields(kind, given)
    searched = typed.get("ground-searched")
    if searched is None or searched.lstrip().startswith("{"):
        return typed
    from wherestood.fix.area import read_area

    read_area(searched)
    file = Path(searched)
    if file.is_file():
        shape = json.loads(file.read_text(encoding="utf-8-sig"))
        typed["ground-searched"] = json.dumps(shape, ensure_ascii=False)
    return typed


def _say_added(kind: type[Item], record: dict[str, Any], *, as_json: bool) -> None:
    say_json(record) if as_json else say(f"Added {kind.singular} {record['address']}.")


def changer(kind: type[Item]) -> Command:
    """Return the command that changes an item of a kind."""

    def command(
        address: Any,
        key: Annotated[
            str | None, typer.Option("--key", metavar="KEY", help="A new key.")
        ] = None,
        clear: Annotated[
            list[str] | None,
            typer.Option(metavar="FIELD", help="A field to empty; may be repeated."),
        ] = None,
        person: Person = None,
        why: Why = "",
        daybook: DaybookFolder = None,
        as_json: AsJson = False,
        **given: Any,
    ) -> None:
        from wherestood.daybook.change_items import change_item
        from wherestood.daybook.keys import find

        told = {n: v for n, v in _typed(kind, given).items() if v is not None}
        who, table = person_named(person), kind.__tablename__
        with open_daybook(daybook) as book:
            with book.reading() as session:
                before = find(session, kind, address)
                number, seen = before.id, before.revision
            record = change_item(
                book, table, number, told, who, why, clear=clear or (), key=key
            )
        if as_json:
            say_json(record)
        elif record["revision"] != seen:
            say(f"Changed {kind.singular} {record['address']}.")
        else:
            warn(f"Nothing of {kind.singular} {record['address']} was changed.")

    command.__doc__ = f"Change fields of one of the {many(kind)}."
    return with_fields(addressed(command, kind), kind)
