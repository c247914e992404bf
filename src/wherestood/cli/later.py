"""Load commands only when they are called."""

from __future__ import annotations

from difflib import get_close_matches
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperGroup

from wherestood.cli.listed import LISTED, PANELS, Listed
from wherestood.errors import InputError

__all__ = ["LaterCommands"]

_CLOSE = 0.6


class LaterCommands(TyperGroup):
    """Be the program's commands, each made when it is called."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Return the names of all commands, in the order of the work."""
        known = [*super().list_commands(ctx), *LISTED]
        placed = [name for names in PANELS.values() for name in names]
        return [*placed, *(name for name in known if name not in placed)]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Return a command, making it if need be; None if there is none."""
        found = super().get_command(ctx, cmd_name)
        return found if found is not None else _made(cmd_name)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Return the command typed.

        Raises
        ------
        InputError
            If there is none of that name, with the nearest.
        """
        name = args[0]
        known = self.list_commands(ctx)
        if not name.startswith("-") and name not in known:
            near = get_close_matches(name, known, 1, _CLOSE)
            meant = f"Is {near[0]} meant? " if near else ""
            raise InputError(
                f"There is no command {name!r}.",
                f"{meant}See wherestood --help for all of them.",
            )
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the commands under the heading of what they serve."""
        left = set(self.list_commands(ctx))
        for heading, names in PANELS.items():
            with formatter.section(heading):
                formatter.write_dl([(name, self._summary(ctx, name)) for name in names])
            left -= set(names)
        if left:
            with formatter.section("Others"):
                formatter.write_dl([(n, self._summary(ctx, n)) for n in sorted(left)])

    def _summary(self, ctx: Any, name: str) -> str:
        """Return a command's line in the list, without making it."""
        if name in LISTED:
            return LISTED[name].summary
        from wherestood.cli.fields_typed import SUMMARIES

        if name in SUMMARIES:
            return SUMMARIES[name]
        command = super().get_command(ctx, name)
        return str(command.short_help or command.help or "") if command else ""


def _made(name: str) -> Any:
    """Make a command; None if there is none of that name."""
    if name in LISTED:
        return _made_of(name, LISTED[name])
    from wherestood.cli.fields_typed import COMMANDS

    for table, command in COMMANDS.items():
        if command == name:
            from wherestood.cli.things import commands_of

            group: Any = typer.main.get_command(commands_of(table))
            group.name = name
            return group
    return None


def _made_of(name: str, listed: Listed) -> Any:
    written = getattr(import_module(listed.module), listed.function)
    if listed.is_group:
        made: Any = typer.main.get_command(written)
    else:
        alone = typer.Typer(add_completion=False, rich_markup_mode=None)
        example = f"Example: wherestood {name} {listed.example}"
        alone.command(
            name,
            short_help=listed.summary,
            epilog=example if listed.example else None,
        )(written)
        made = typer.main.get_command(alone)
    made.name = name
    return made
