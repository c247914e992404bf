"""Give commands an option for every field of a table."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer
from sqlalchemy import JSON, Boolean, Float, Integer

from wherestood.cli.completing import addresses_in

if TYPE_CHECKING:
    from wherestood.daybook.tables import Item

__all__ = [
    "COMMANDS",
    "SUMMARIES",
    "Command",
    "addressed",
    "field_options",
    "many",
    "typed_fields",
    "with_argument",
    "with_fields",
    "without",
]

Command = Callable[..., None]
#: The command of each table whose items people handle.
COMMANDS = {
    "dates": "dates",
    "decisions": "decisions",
    "details": "details",
    "evidence": "evidence",
    "feature_names": "names",
    "features": "features",
    "fixes": "fixes",
    "informants": "informants",
    "leads": "leads",
    "makers": "makers",
    "marks": "marks",
    "notes": "notes",
    "plans": "plans",
    "plates": "plates",
    "proposed_positions": "proposals",
    "requests": "requests",
    "restrictions": "restrictions",
    "rights": "rights",
    "scans": "scans",
    "sources": "sources",
    "statements": "statements",
    "terrain_layers": "terrain",
}
SUMMARIES = {
    "dates": "Dates and bounds of dates, as written.",
    "decisions": "What people concluded, and in what words.",
    "details": "Things seen on plates.",
    "evidence": "Things in line, lines traced, and the like.",
    "features": "Things on the ground.",
    "fixes": "Answers, kept with all they rest on.",
    "informants": "People who told something.",
    "leads": "What to look up or ask, and what came of it.",
    "makers": "Photographers and firms.",
    "marks": "Points, lines and outlines on scans.",
    "names": "Names of features, in their sources' spelling.",
    "notes": "Notes on items of any kind.",
    "plans": "Old plans.",
    "plates": "Photographs under study.",
    "proposals": "Positions that somebody proposes.",
    "requests": "What people ask, and by when.",
    "restrictions": "How closely places may be published.",
    "rights": "Who holds what rights, on what terms.",
    "scans": "Image files of plates.",
    "sources": "Where things are written or shown.",
    "statements": "What sources and people say.",
    "terrain": "Elevation models, with their provenance.",
}


def many(kind: type[Item]) -> str:
    """Return what the items of a table are called."""
    return COMMANDS[kind.__tablename__]


def field_options(kind: type[Item]) -> dict[str, Any]:
    """Return the annotation of each field's option, by the option's name."""
    from wherestood.daybook.records import fields_of
    from wherestood.daybook.typed_lists import AS_TYPED

    made: dict[str, Any] = {}
    for name, column in fields_of(kind).items():
        choices = column.info.get("choices")
        metavar = "WORDS"
        if choices:
            metavar = "|".join(choices)
        elif column.info.get("table"):
            metavar = "KEY"
        elif isinstance(column.type, JSON):
            metavar = AS_TYPED.get(column.info.get("holds", ""), "WORDS;...")
        elif isinstance(column.type, Boolean):
            metavar = "yes|no"
        elif isinstance(column.type, Float | Integer):
            metavar = "N"
        about = str(column.info["about"])
        made[name] = Annotated[
            str | None,
            typer.Option(
                f"--{name}",
                metavar=metavar,
                help=about[0].upper() + about[1:] + ".",
                autocompletion=_values_of(choices, column.info.get("table")),
            ),
        ]
    return made


def _values_of(
    choices: Sequence[str] | None, table: str | None
) -> Callable[[str], list[str]]:
    """Return what completes the value of a field: its choices, or items' keys."""

    def values(incomplete: str) -> list[str]:
        if table is not None:
            return addresses_in(table, incomplete)
        return [one for one in choices or () if one.startswith(incomplete)]

    return values


#: Arguments that say which item is meant.
_ADDRESSES = ("table", "address")


def with_fields(command: Command, kind: type[Item]) -> Command:
    """Give a command an option for every field, in the place of ``**given``."""
    signature = inspect.signature(command, eval_str=True)
    own = [p for p in signature.parameters.values() if p.kind is not p.VAR_KEYWORD]
    taken = {parameter.name for parameter in own}
    fields = [
        inspect.Parameter(
            _parameter(name), inspect.Parameter.KEYWORD_ONLY, default=None,
            annotation=annotation,
        )
        for name, annotation in field_options(kind).items()
        if _parameter(name) not in taken
    ]  # fmt: skip
    # What is typed most stands first: address, fields, then what all commands take.
    lead = [p for p in own if p.name in _ADDRESSES]
    rest = [
        p.replace(kind=inspect.Parameter.KEYWORD_ONLY)
        for p in own
        if p.name not in _ADDRESSES
    ]
    ordered = [*lead, *fields, *rest]
    command.__signature__ = signature.replace(parameters=ordered)  # type: ignore[attr-defined]
    command.__annotations__ = {p.name: p.annotation for p in ordered}
    return command


def _parameter(option: str) -> str:
    return f"field_{option.replace('-', '_')}"


def typed_fields(kind: type[Item], given: dict[str, Any]) -> dict[str, Any]:
    """Return the fields that were typed, by option."""
    return {name: given.get(_parameter(name)) for name in field_options(kind)}


def with_argument(
    command: Command, name: str, annotation: Any, default: Any
) -> Command:
    """Give a command's argument its annotation and default."""
    signature = inspect.signature(command, eval_str=True)
    parameters = [
        p.replace(annotation=annotation, default=default) if p.name == name else p
        for p in signature.parameters.values()
    ]
    command.__signature__ = signature.replace(parameters=parameters)  # type: ignore[attr-defined]
    command.__annotations__ = {p.name: p.annotation for p in parameters}
    return command


def _address_help(kind: type[Item]) -> str:
    from wherestood.daybook.tables import OnPlate

    return "PLATE/KEY" if issubclass(kind, OnPlate) else "KEY"


def addressed(command: Command, kind: type[Item]) -> Command:
    """Give a command's address its name in the help."""

    def addresses(incomplete: str) -> list[str]:
        return addresses_in(kind.__tablename__, incomplete)

    argument = typer.Argument(
        metavar=_address_help(kind),
        help=f"As the list of {many(kind)} shows it.",
        autocompletion=addresses,
    )
    address = Annotated[str, argument]
    return with_argument(command, "address", address, inspect.Parameter.empty)


def without(command: Command, name: str) -> None:
    """Take a parameter from a command."""
    signature = inspect.signature(command, eval_str=True)
    kept = [p for p in signature.parameters.values() if p.name != name]
    command.__signature__ = signature.replace(parameters=kept)  # type: ignore[attr-defined]
    command.__annotations__ = {p.name: p.annotation for p in kept}
