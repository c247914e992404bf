"""Answer ``wherestood plans pin``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.table import Table

from wherestood.cli.book import (
    DaybookFolder,
    Person,
    Why,
    open_daybook,
    person_named,
)
from wherestood.cli.options import AsJson
from wherestood.cli.plans import PlanKey
from wherestood.cli.screen import say, say_json, warn

__all__ = ["pin"]


def pin(
    plan: PlanKey,
    pins: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.csv",
            help="Pins: name, x_px, y_px, lon_deg, lat_deg, sd_px, sd_m; its own "
            "unless told.",
        ),
    ] = None,
    crs: Annotated[
        str | None,
        typer.Option(
            metavar="CODE", help="Grid of columns east and north, as EPSG:27200."
        ),
    ] = None,
    fit: Annotated[
        str | None,
        typer.Option(metavar="FIT", help="similarity, affine, projective or bending."),
    ] = None,
    mirrored: Annotated[
        bool | None,
        typer.Option(
            "--mirrored/--not-mirrored", help="Whether the sheet is seen from behind."
        ),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would happen.")
    ] = False,
    person: Person = None,
    why: Why = "",
    daybook: DaybookFolder = None,
    json: AsJson = False,
) -> None:
    """Pin a plan to the ground, and say what is left over at each pin."""
    from wherestood.daybook.plan_pin_file import read_pins
    from wherestood.daybook.plan_pins import pin_plan
    from wherestood.daybook.plan_told import pinning_told

    with open_daybook(daybook) as book:
        given = None
        if pins is not None:
            with book.reading() as session:
                given = read_pins(session, pins, crs=crs)
        done = pin_plan(
            book, plan, person_named(person), pins=given, fit=fit, mirrored=mirrored,  # type: ignore[arg-type]
            why=why, dry_run=dry_run,
        )  # fmt: skip
    told = pinning_told(done)
    say_json(told) if json else _say(told, dry_run=dry_run)


def _say(told: dict[str, Any], *, dry_run: bool) -> None:
    would = "would be " if dry_run else "is "
    say(
        f"Plan {told['plan']} {would}pinned, {told['fit']}: "
        f"{told['metres_per_px']:.3g} m a pixel in the middle of its pins."
    )
    _say_pins(told["pins"])
    for one in told["pins"]:
        if not one["counts"]:
            warn(
                f"Warning: pin {one['name']} is {one['left_over_m']:.0f} m off what "
                f"the others say, and is set aside: {_odds(one['wrong'])} that it is "
                "wrong."
            )
        elif one["wrong"] > 0.2:
            warn(
                f"Note: pin {one['name']} may be wrong ({_odds(one['wrong'])}); more "
                "pins would tell."
            )
    if told["left_out_tried"]:
        say(
            f"Left out in turn, {told['left_out_inside']} of {told['left_out_tried']} "
            "pins lie within what the others foretell, 9 in 10 should."
        )
    say(
        f"All that is read on it shares a shift of {told['shared_shift_sd_m']:.1f} m "
        "(standard error)."
    )
    for words in told["warnings"]:
        warn(f"Note: {words}")
    if told["moved"]:
        farthest = max(one["m"] for one in told["moved"])
        moves = "would move" if dry_run else "moved"
        count = len(told["moved"])
        say(
            f"{count} thing{'s' if count > 1 else ''} traced from it {moves}, by "
            f"{farthest:.1f} m at most."
        )


def _say_pins(pins: list[dict[str, Any]]) -> None:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in ("Pin", "Left over", "East", "North", "By the others", "9 in 10"):
        table.add_column(
            heading if heading == "Pin" else f"{heading}, m",
            justify="left" if heading == "Pin" else "right",
        )
    table.add_column("")
    for one in pins:
        table.add_row(
            one["name"],
            _metres(one["left_over_m"]),
            _metres(one["left_over_east_m"], "+"),
            _metres(one["left_over_north_m"], "+"),
            _metres(one["left_out_miss_m"]),
            _metres(one["left_out_within90_m"]),
            "" if one["counts"] else "set aside",
        )
    Console(soft_wrap=True).print(table)


def _metres(value: float | None, sign: str = "") -> str:
    return "-" if value is None else f"{value:{sign}.1f}"


def _odds(share: float) -> str:
    """Say a probability as people do."""
    return "almost certain" if share > 0.995 else f"{100 * share:.0f} in 100"
