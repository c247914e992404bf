"""Answer ``wherestood shelf``."""

from __future__ import annotations

from typing import Annotated

import typer

from wherestood.cli.options import AsJson
from wherestood.cli.screen import say_json, say_page
from wherestood.record.page import Section

__all__ = ["shelf"]


def shelf(
    plates: Annotated[int, typer.Option(metavar="N", help="How many plates.")],
    limit_kg: Annotated[
        float,
        typer.Option(
            metavar="KG", help="What the shelf may carry, as its maker states."
        ),
    ],
    size: Annotated[
        str, typer.Option(metavar="SIZE", help='Their size: "whole plate", 216x165mm.')
    ] = "whole plate",
    thickness: Annotated[
        float | None,
        typer.Option(metavar="MM", help="Their thickness, mm; else by their kind."),
    ] = None,
    kind: Annotated[
        str, typer.Option(metavar="KIND", help="wet plate (2.5 mm) or dry plate (1.3).")
    ] = "dry plate",
    json: AsJson = False,
) -> None:
    """Say what a shelf of glass plates weighs, and how to handle them."""
    from wherestood.dating.glass_store import (
        CAUTIONS,
        THICKNESS_MM,
        GlassLot,
        plate_kg,
        shelf_load,
    )
    from wherestood.errors import InputError
    from wherestood.plate.formats import size_mm

    if kind not in THICKNESS_MM:
        raise InputError(
            f"No kind of glass plate is called {kind!r}.",
            f"Choose one of: {', '.join(THICKNESS_MM)}.",
        )
    long_mm, short_mm = size_mm(size)
    thick = THICKNESS_MM[kind] if thickness is None else thickness
    each = plate_kg(long_mm, short_mm, thick)
    load = shelf_load([GlassLot(plates, long_mm, short_mm, thick)], limit_kg)
    if json:
        say_json(
            {
                "plate_kg": round(each, 3),
                "glass_kg": round(load.glass_kg, 1),
                "whole_kg": round(load.whole_kg, 1),
                "limit_kg": limit_kg,
                "share": round(load.share, 3),
            }
        )
        return
    weight = (
        f"One plate of {long_mm:.0f} x {short_mm:.0f} mm, {thick:g} mm thick: "
        f"{each:.2f} kg."
    )
    words = load.words[:1].upper() + load.words[1:]
    say_page([Section("Weight", (weight, f"{words}.")), Section("Handling", CAUTIONS)])
