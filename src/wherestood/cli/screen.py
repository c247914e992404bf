"""Speak to the person at the terminal."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.padding import Padding
from rich.progress import (
    BarColumn,
    Progress,
    SpinnerColumn,
    TaskID,
    TextColumn,
    TimeRemainingColumn,
)
from rich.table import Table
from rich.text import Text

from wherestood.errors import WherestoodError
from wherestood.record.page import Section

__all__ = [
    "Stages",
    "say",
    "say_json",
    "say_page",
    "say_trouble",
    "say_written",
    "stages",
    "warn",
]


#: Without a terminal progress is told this often at most [s].
SAID_EVERY_S = 15.0


def _out() -> Console:
    return Console(file=sys.stdout, highlight=False, soft_wrap=not sys.stdout.isatty())


def _err() -> Console:
    return Console(file=sys.stderr, highlight=False, soft_wrap=not sys.stderr.isatty())


def say(text: str | Text) -> None:
    """Write a line to standard output."""
    _out().print(Text(text) if isinstance(text, str) else text)


def say_json(content: Any) -> None:
    """Write JSON, and nothing else, to standard output."""
    sys.stdout.write(json.dumps(content, indent=1, allow_nan=False) + "\n")


def say_page(sections: Iterable[Section]) -> None:
    """Write a page of headed sentences to standard output."""
    console = Console(file=sys.stdout, highlight=False)
    for section in sections:
        console.print(Text(section.heading, style="bold"))
        for line in section.lines:
            console.print(Padding(Text(line), (0, 0, 0, 2), expand=False))
        if section.table:
            console.print(_table(section))
        console.print()


def _table(section: Section) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=True, show_edge=False)
    head, *rows = section.table
    for name in head:
        table.add_column(Text(name), overflow="fold")
    for row in rows:
        table.add_row(*(Text(word) for word in row))
    return table


def say_written(paths: Iterable[Path]) -> None:
    """Name the files written."""
    for path in paths:
        say(f"Wrote {path}")


def warn(text: str) -> None:
    """Write a line to standard error."""
    _err().print(Text(text))


def say_trouble(error: WherestoodError) -> None:
    """Write what is wrong, and what to do, to standard error."""
    warn(error.problem)
    if error.remedy:
        warn(error.remedy)


class Stages:
    """Show stages and time left: a bar on a terminal, plain lines elsewhere.

    Parameters
    ----------
    bar : rich.progress.Progress or None
        The bar; None where there is no terminal. A line then begins each stage, and
        another says how far it has come whenever some time has passed.
    now : callable
        Returns a time that only grows [s].
    """

    def __init__(
        self, bar: Progress | None, now: Callable[[], float] = time.monotonic
    ) -> None:
        self._bar = bar
        self._task: TaskID | None = None
        self._name = ""
        self._now = now
        self._total: int | None = None
        self._done = 0
        self._began = self._told = now()

    def stage(self, name: str, total: int | None = None) -> None:
        """Begin a stage."""
        if self._bar is None:
            if name != self._name:
                warn(f"{name} ...")
            self._name, self._total, self._done = name, total, 0
            self._began = self._told = self._now()
            return
        if self._task is not None:
            self._bar.remove_task(self._task)
        self._task = self._bar.add_task(name, total=total)

    def advance(self, steps: int = 1) -> None:
        """Move the bar on, or say now and then how far it is."""
        if self._bar is not None:
            if self._task is not None:
                self._bar.advance(self._task, steps)
            return
        self._done += steps
        now = self._now()
        if now - self._told < SAID_EVERY_S:
            return
        self._told = now
        warn(f"{self._name}: {self._how_far(now - self._began)}")

    def _how_far(self, took_s: float) -> str:
        if not self._total or not 0 < self._done <= self._total:
            return f"{self._done} steps done"
        share = self._done / self._total
        left_s = took_s * (1.0 - share) / share
        left = f"{left_s / 60.0:.0f} minutes" if left_s > 90.0 else f"{left_s:.0f} s"
        return f"{100.0 * share:.0f}%, about {left} left"


@contextmanager
def stages() -> Iterator[Stages]:
    """Show progress on standard error while work goes on."""
    if not sys.stderr.isatty():
        yield Stages(None)
        return
    columns = (
        SpinnerColumn(),
        TextColumn("{task.description}"),
        BarColumn(),
        TimeRemainingColumn(compact=True),
    )
    with Progress(*columns, console=_err(), transient=True) as bar:
        yield Stages(bar)
