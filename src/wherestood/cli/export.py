"""Answer ``wherestood export``."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

import wherestood
from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json, stages, warn

if TYPE_CHECKING:
    from wherestood.record.export.handed import HandedOut

__all__ = ["export"]

Form = Annotated[
    list[str] | None,
    typer.Option(
        "--form",
        metavar="NAME",
        help="A form to write, as geojson; may be repeated. All of them unless told.",
    ),
]


def export(
    out: Annotated[
        Path,
        typer.Argument(metavar="OUT", help="A new folder, or a file ending in .zip."),
    ],
    fix: Annotated[
        Path,
        typer.Option(
            metavar="FIX", help="A bare answer: its fix.json, or the folder of it."
        ),
    ],
    scan: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="SCAN",
            help="The scan of a bare answer, to go along; may be repeated.",
        ),
    ] = None,
    form: Form = None,
    json: AsJson = False,
) -> None:
    """Hand answers out in forms that other programs and catalogues take over."""
    from wherestood.record.export.formats import FORMATS, check_formats, write_formats
    from wherestood.record.export.whole import whole_at_the_end

    wanted = check_formats(form or ())
    handed = _of_fix(fix, scan or ())
    with stages() as shown, whole_at_the_end(out) as folder:
        write_formats(folder, handed, wanted, shown)
        files = [str(p.relative_to(folder)) for p in sorted(folder.rglob("*"))]
    if json:
        say_json({"path": str(out), "kind": handed.kind, "files": files})
        return
    say(f"Wrote {out}:")
    for name in wanted:
        say(f"  {FORMATS[name]}")
    warn("Note: full, restricted: places are as they are known.")


def _of_fix(fix: Path, scans: Sequence[Path]) -> HandedOut:
    from wherestood.record.export.of_fix import handed_of_fix
    from wherestood.record.fix_json import read_fix

    form = read_fix(fix / "fix.json" if fix.is_dir() else fix)
    made = datetime.now(UTC).isoformat(timespec="seconds")
    return handed_of_fix(form, scans=scans, made=made, version=wherestood.__version__)
