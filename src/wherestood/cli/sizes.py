"""Answer ``wherestood sizes``."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table

from wherestood.cli.options import AsJson
from wherestood.cli.screen import say, say_json

__all__ = ["sizes"]


def sizes(json: AsJson = False) -> None:
    """List the plate sizes known by name, with where each comes from."""
    from wherestood.plate.formats import plate_formats

    formats = plate_formats()
    if json:
        say_json(
            [
                {
                    "name": size.name,
                    "also": list(size.also),
                    "long_mm": size.long_mm,
                    "short_mm": size.short_mm,
                    "used": size.used,
                    "mark": size.mark,
                    "source": size.source,
                }
                for size in formats
            ]
        )
        return
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in ("Name", "mm", "Where", "Checked", "Also"):
        table.add_column(heading, no_wrap=heading in ("Name", "mm"))
    for size in formats:
        table.add_row(
            size.name,
            f"{size.long_mm:.0f} x {size.short_mm:.0f}",
            size.used,
            size.mark,
            ", ".join(size.also),
        )
    Console(highlight=False, width=None).print(table)
    say("A size may also be given as WxHmm or WxHin, such as 216x165mm.")
