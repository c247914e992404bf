"""Load the commands for items of a daybook only when one of them is called."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Any

import typer
from typer.core import TyperGroup

from wherestood.errors import InputError

__all__ = ["PANELS", "LaterCommands"]

#: The commands by what they serve, in the order of the work.
PANELS: dict[str, tuple[str, ...]] = {
    "One plate by itself": ("demo", "locate", "trace", "horizon", "sizes"),
    "A daybook, and what comes into it": (
        "daybook", "take-in", "catalogue-in", "gazetteer-in", "terrain-needed",
        "terrain-in",
    ),
    "Plates": ("plates", "scans", "makers", "requests", "register"),
    "What is seen on a plate": ("details", "marks", "evidence", "carry"),
    "What is on the ground": ("features", "names", "offer", "plans", "terrain"),
    "What people and papers say": (
        "sources", "statements", "informants", "dates", "leads", "notes",
    ),
    "The answer": ("fix", "fixes", "proposals", "decisions"),
    "Looking back": ("history", "undo", "redo", "verify"),
    "Handing over": (
        "restrictions", "rights", "catalogue-out", "bag", "unbag", "merge",
    ),
}  # fmt: skip
_CLOSE = 0.6


class LaterCommands(TyperGroup):
    """Be the program's commands, some of which are made when they are called.

    To make them needs the tables, and those the database library, which would make
    every other command start more slowly.
    """

    def list_commands(self, ctx: Any) -> list[str]:
        """Return the names of all commands, in the order of the work."""
        from wherestood.cli.fields_typed import COMMANDS

        known = [*super().list_commands(ctx), *sorted(COMMANDS.values())]
        placed = [name for names in PANELS.values() for name in names if name in known]
        return [*placed, *(name for name in known if name not in placed)]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Return a command, making it if need be."""
        found = super().get_command(ctx, cmd_name)
        return found if found is not None else made(cmd_name)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Return the command typed.

        Raises
        ------
        InputError
            If there is none of that name, with the nearest.
        """
        name = args[0]
        if not name.startswith("-") and self.get_command(ctx, name) is None:
            near = get_close_matches(name, self.list_commands(ctx), 1, _CLOSE)
            meant = f"Is {near[0]} meant? " if near else ""
            raise InputError(
                f"There is no command {name!r}.",
                f"{meant}See wherestood --help for all of them.",
            )
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the commands under the heading of what they serve."""
        summaries = {name: self._summary(ctx, name) for name in self.list_commands(ctx)}
        for heading, names in PANELS.items():
            rows = [(n, summaries.pop(n)) for n in names if n in summaries]
            with formatter.section(heading):
                formatter.write_dl(rows)
        if summaries:
            with formatter.section("Others"):
                formatter.write_dl(list(summaries.items()))

    def _summary(self, ctx: Any, name: str) -> str:
        """Return a command's line in the list, without making it."""
        from wherestood.cli.fields_typed import SUMMARIES

        if name in SUMMARIES:
            return SUMMARIES[name]
        command = super().get_command(ctx, name)
        return str(command.short_help or command.help or "") if command else ""


def made(name: str) -> Any:
    """Make the commands for the items that go by a name; None if none do."""
    from wherestood.cli.fields_typed import COMMANDS

    for table, command in COMMANDS.items():
        if command == name:
            from wherestood.cli.things import commands_of

            group: Any = typer.main.get_command(commands_of(table))
            group.name = name
            return group
    return None
