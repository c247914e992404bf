"""Load the commands for items of a daybook only when one of them is called."""

from __future__ import annotations

from typing import Any

import typer
from typer.core import TyperGroup

__all__ = ["LaterCommands"]


class LaterCommands(TyperGroup):
    """Be the program's commands, some of which are made when they are called.

    To make them needs the tables, and those the database library, which would make
    every other command start more slowly.
    """

    def list_commands(self, ctx: Any) -> list[str]:
        """Return the names of all commands."""
        from wherestood.cli.fields_typed import COMMANDS

        return [*super().list_commands(ctx), *sorted(COMMANDS.values())]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Return a command, making it if need be."""
        found = super().get_command(ctx, cmd_name)
        return found if found is not None else made(cmd_name)


def made(name: str) -> Any:
    """Make the commands for the items that go by a name; None if none do."""
    from wherestood.cli.things import COMMANDS, commands_of

    for table, command in COMMANDS.items():
        if command == name:
            group: Any = typer.main.get_command(commands_of(table))
            group.name = name
            return group
    return None
