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
from wherestood.cli.arranged import arranged
from wherestood.cli.exits import ANSWERED, CANCELLED, UNEXPECTED, exit_code
from wherestood.cli.later import LaterCommands
from wherestood.cli.screen import say, say_trouble, warn
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
        if _was_stopped(error):
            warn(STOPPED)
            return CANCELLED
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


def _was_stopped(error: BaseException | None) -> bool:
    """Tell whether an error came of a stop, as when a kernel was being compiled."""
    while error is not None:
        if isinstance(error, KeyboardInterrupt):
            return True
        error = error.__cause__ or error.__context__
    return False


def _brief(error: Exception) -> str:
    first = (str(error).strip() or "no message").splitlines()[0]
    return f"{type(error).__name__}: {first}"


def _show(wanted: bool) -> None:
    if wanted:
        sys.stderr.write(traceback.format_exc())


def _stop(_number: int, _frame: FrameType | None) -> NoReturn:
    """End on a request from outside as on Ctrl-C."""
    raise KeyboardInterrupt
