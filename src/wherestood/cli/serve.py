"""Answer ``wherestood serve``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wherestood.cli.book import Person, person_named
from wherestood.cli.screen import say, warn

__all__ = ["serve"]


def serve(
    daybook: Annotated[
        Path | None,
        typer.Argument(
            metavar="[DAYBOOK]",
            envvar="WHERESTOOD_DAYBOOK",
            help="Folder of the daybook; the page offers the demo and a new one "
            "unless told.",
        ),
    ] = None,
    port: Annotated[
        int | None,
        typer.Option(
            metavar="N",
            min=1,
            max=65535,
            help="Port to listen on; 8618, or the next free one, unless told.",
        ),
    ] = None,
    open_browser: Annotated[
        bool, typer.Option("--open/--no-open", help="Open the browser.")
    ] = True,
    person: Person = None,
) -> None:
    """Serve a daybook as pages to this machine's browser, until Ctrl-C."""
    from wherestood.server.serve import has_display
    from wherestood.server.serve import serve as listen

    shown = open_browser and has_display()
    if open_browser and not shown:
        warn("There is no display here: open the address in a browser yourself.")
    listen(daybook, person_named(person), port=port, open_browser=shown, say=say)
