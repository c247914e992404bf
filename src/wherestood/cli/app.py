"""Run commands, and turn every way of ending into words and an exit code."""

from __future__ import annotations

import signal
import sys
import traceback
from collections.abc import Sequence
from difflib import get_close_matches
from types import FrameType
from typing import Annotated, NoReturn

import typer

import wherestood
from wherestood.cli import daybook
from wherestood.cli.arguments import arranged
from wherestood.cli.demo import demo
from wherestood.cli.exchange import EXCHANGE
from wherestood.cli.exits import ANSWERED, CANCELLED, UNEXPECTED, exit_code
from wherestood.cli.fix import fix
from wherestood.cli.horizon import horizon
from wherestood.cli.later import LaterCommands
from wherestood.cli.locate import locate
from wherestood.cli.screen import say, say_trouble, warn
from wherestood.cli.serve import serve
from wherestood.cli.sizes import sizes
from wherestood.cli.trace import trace
from wherestood.errors import CancelledError, WherestoodError

__all__ = ["app", "main", "run"]

TRACEBACK = "--traceback"
STOPPED = "Stopped; nothing was left half-written."

app = typer.Typer(
    name="wherestood",
    cls=LaterCommands,
    help="Find where an early photograph was taken, and say honestly how sure.",
    add_completion=True,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for command, summary, example in (
    (demo, "Locate an invented plate and compare with the truth.", ""),
    (
        locate,
        "Find where a plate was taken, and say how sure that is.",
        "scan.tif --terrain valley.tif --within 8.5,46.1,3km --out answer",
    ),
    (trace, "Trace the skyline of a scan, with honest gaps.", "scan.tif --out look"),
    (
        horizon,
        "Compute the horizon seen from a place.",
        "8.5,46.1 --terrain valley.tif",
    ),
    (sizes, "List the plate sizes known by name.", ""),
    (
        fix,
        "Find where a plate of the daybook was taken, and keep the answer.",
        "1987.12 --within 8.5,46.1,3km",
    ),
    (serve, "Serve a daybook as pages to this machine's browser.", "my-valley"),
    (daybook.history, "Tell what was done, as a diary.", "1987.12"),
    (daybook.undo, "Take back the last act; the journal keeps both.", ""),
    (daybook.redo, "Do again what was last taken back.", ""),
):
    app.command(
        short_help=summary,
        epilog=f"Example: wherestood {command.__name__} {example}" if example else None,
    )(command)

books = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Make a daybook, and say what one holds.",
)
books.command()(daybook.new)
books.command()(daybook.about)
books.command()(daybook.rebuild)
app.add_typer(books, name="daybook")
for entering, what, typed in EXCHANGE:
    name = entering.__name__.replace("_", "-")
    app.command(
        name, short_help=what, epilog=f"Example: wherestood {name} {typed}".strip()
    )(entering)


def _version(wanted: bool) -> None:
    if wanted:
        say(f"wherestood {wherestood.__version__}")
        raise typer.Exit


@app.callback()
def _program(
    version: Annotated[
        bool,
        typer.Option(
            "--version",
            help="Say which version this is.",
            callback=_version,
            is_eager=True,
        ),
    ] = False,
    traceback: Annotated[
        bool,
        typer.Option(TRACEBACK, help="Show where an error arose; may stand anywhere."),
    ] = False,
) -> None:
    # Both are dealt with elsewhere: the one by its callback, the other in `run`.
    del version, traceback


def main() -> NoReturn:
    """Run the program with the arguments of the process, and end it."""
    signal.signal(signal.SIGTERM, _stop)
    sys.exit(run(sys.argv[1:]))


def run(arguments: Sequence[str]) -> int:
    """Run the program and return its exit code.

    Parameters
    ----------
    arguments : sequence of str
        What was typed after the program's name.
    """
    show = TRACEBACK in arguments
    kept = [argument for argument in arguments if argument != TRACEBACK]
    try:
        code = app(arranged(kept), standalone_mode=False, prog_name="wherestood")
    except (KeyboardInterrupt, CancelledError, typer.Abort):
        warn(STOPPED)
        return CANCELLED
    except WherestoodError as error:
        say_trouble(error)
        _show(show)
        return exit_code(error)
    except BrokenPipeError:
        return ANSWERED
    except Exception as error:
        if hasattr(error, "format_message"):
            return _usage(error)
        warn(f"Something went wrong that was not foreseen: {_brief(error)}")
        if not show:
            warn(f"Run it again with {TRACEBACK} to see where, and please report it.")
        _show(show)
        return UNEXPECTED
    if code == CANCELLED:  # the parser turns Ctrl-C into a code by itself
        warn(STOPPED)
    return code if isinstance(code, int) else ANSWERED


def _usage(error: Exception) -> int:
    """Say what the parser could not read."""
    possible = getattr(error, "possibilities", None)
    if possible:
        typed = str(getattr(error, "option_name", ""))
        error.possibilities = get_close_matches(typed, possible, n=1)  # type: ignore[attr-defined]
    message = error.format_message()  # type: ignore[attr-defined]
    if message:
        warn(message)
        warn("See wherestood --help, or --help after a command.")
    return int(getattr(error, "exit_code", 2)) if message else 2


def _brief(error: Exception) -> str:
    first = (str(error).strip() or "no message").splitlines()[0]
    return f"{type(error).__name__}: {first}"


def _show(wanted: bool) -> None:
    if wanted:
        sys.stderr.write(traceback.format_exc())


def _stop(_number: int, _frame: FrameType | None) -> NoReturn:
    """End on a request from outside as on Ctrl-C."""
    raise KeyboardInterrupt
