"""Make the commands that add items of one kind, and change them."""

from __future__ import annotations

import inspect
from collections.abc import Callable
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

_AS_USUAL: dict[str, dict[str, Any]] = {
    "leads": {"state": "to do"},
    "requests": {"state": "open"},
}


def adder(kind: type[Item]) -> Command:
    """Return the command that adds an item of a kind."""
    from wherestood.daybook.tables import About, OnPlate

    if issubclass(kind, About):
        return _adder_about(kind)
    metavar = "PLATE[/KEY]" if issubclass(kind, OnPlate) else "[KEY]"
    typed = Annotated[str, typer.Argument(metavar=metavar)]

    def command(
        address: Any,
        person: Person = None,
        why: Why = "",
        daybook: DaybookFolder = None,
        json: AsJson = False,
        **given: Any,
    ) -> None:
        from wherestood.daybook.records import plate_and_key

        def new(session: Any) -> Item:
            if not issubclass(kind, OnPlate):
                return kind(key=address or None)
            plate, key = plate_and_key(session, address)
            return kind(key=key, plate_id=plate.id)

        _add(kind, new, given, person, why, daybook, as_json=json)

    command.__doc__ = f"Add one to the {many(kind)}."
    default = inspect.Parameter.empty if issubclass(kind, OnPlate) else ""
    return with_fields(with_argument(command, "address", typed, default), kind)


def _adder_about(kind: type[Item]) -> Command:
    def command(
        table: Annotated[
            str, typer.Argument(metavar="THINGS", help="Such as plates or informants.")
        ],
        address: Annotated[str, typer.Argument(metavar="ADDRESS")],
        person: Person = None,
        why: Why = "",
        daybook: DaybookFolder = None,
        json: AsJson = False,
        **given: Any,
    ) -> None:
        from wherestood.daybook.journal import plate_of
        from wherestood.daybook.records import find_about

        tables = {command: name for name, command in COMMANDS.items()}

        def new(session: Any) -> Item:
            about = find_about(session, tables.get(table, table), address)
            return kind(
                about_table=about.__tablename__,
                about_id=about.id,
                plate_id=plate_of(about),
            )

        _add(kind, new, given, person, why, daybook, as_json=json)

    command.__doc__ = f"Add one to the {many(kind)}, about an item of any kind."
    return with_fields(command, kind)


def _add(
    kind: type[Item],
    new: Callable[[Any], Item],
    given: dict[str, Any],
    person: str | None,
    why: str,
    folder: Path | None,
    *,
    as_json: bool,
) -> None:
    from wherestood.daybook.decide import complete_decision
    from wherestood.daybook.records import record_of, set_fields

    who = person_named(person)
    with open_daybook(folder) as book, book.writing(who, why) as session:
        item = new(session)
        usual = _AS_USUAL.get(kind.__tablename__, {})
        typed = typed_fields(kind, given)
        told = {name: v for name, v in typed.items() if v is not None}
        set_fields(session, item, {**usual, **told})
        complete_decision(session, item, who)
        session.add(item)
        session.flush()
        record = record_of(session, item)
    say_json(record) if as_json else say(f"Added {item.singular} {record['address']}.")


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
        json: AsJson = False,
        **given: Any,
    ) -> None:
        from wherestood.daybook.keys import find
        from wherestood.daybook.records import fields_of, record_of, set_fields
        from wherestood.daybook.rename import rename

        with (
            open_daybook(daybook) as book,
            book.writing(person_named(person), why) as session,
        ):
            item = find(session, kind, address)
            before = item.revision
            set_fields(session, item, typed_fields(kind, given))
            columns = fields_of(kind)
            for name in clear or ():
                if name not in columns:
                    raise InputError(
                        f"A {kind.singular} has no field {name!r}.",
                        f"Choose one of: {', '.join(columns)}.",
                    )
                setattr(item, columns[name].key, None)
            if key is not None:
                rename(session, item, key)
            session.flush()
            record, changed = record_of(session, item), item.revision != before
        if json:
            say_json(record)
        elif changed:
            say(f"Changed {item.singular} {record['address']}.")
        else:
            warn(f"Nothing of {item.singular} {record['address']} was changed.")

    command.__doc__ = f"Change fields of one of the {many(kind)}."
    return with_fields(addressed(command, kind), kind)
