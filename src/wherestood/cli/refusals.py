"""Show what was not taken, and why."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from wherestood.cli.screen import say, warn

if TYPE_CHECKING:
    from wherestood.daybook.sheets import Refusal

__all__ = ["refusals_as_json", "say_refusals", "write_refusals"]

_SHOWN = 20


def refusals_as_json(refused: Sequence[Refusal]) -> list[dict[str, str]]:
    """Return every refusal as a JSON record."""
    return [one.as_json() for one in refused]


def say_refusals(refused: Sequence[Refusal], report: Path | None = None) -> None:
    """Say what was not taken: the first of many, all of them into the report."""
    if report is not None:
        write_refusals(report, refused)
        say(f"Wrote {report}")
    if not refused:
        return
    warn(f"Not taken: {len(refused)}")
    for one in refused[:_SHOWN]:
        warn(f"  {one.sentence()}")
    if len(refused) > _SHOWN:
        where = f"see {report}" if report else "give --report FILE.csv to see all"
        warn(f"  ... and {len(refused) - _SHOWN} more; {where}.")


def write_refusals(path: Path, refused: Sequence[Refusal]) -> None:
    """Write every refusal as a table."""
    from wherestood.daybook.sheets.write import write_sheet

    rows = [(one.where, one.what, one.why) for one in refused]
    write_sheet(path, ("where", "what", "why"), rows)
