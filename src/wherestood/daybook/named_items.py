"""Make items of what has a name in a table: periods, and signs of the season."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sqlalchemy.orm import Session

from wherestood.dating.items import Item
from wherestood.dating.months import month_words, months_between
from wherestood.dating.periods import period_item
from wherestood.dating.seen_on_plate import Named
from wherestood.dating.signs import season_item
from wherestood.daybook.date_items import gather_dates
from wherestood.daybook.region import Region
from wherestood.daybook.seen_kept import SeenKept, seen_kept
from wherestood.daybook.tables import Plate
from wherestood.errors import InputError, WherestoodError

__all__ = ["given_items", "items_of_plate", "kept_items", "those_within"]


def those_within(
    items: Sequence[Item], first: int, last: int, left_out: list[str]
) -> list[Item]:
    """Leave out what leaves no month of those considered, and say so."""
    months, found = months_between(first, last), []
    for item in items:
        if item.agrees(months).any():
            found.append(item)
            continue
        left_out.append(
            f"{item.key} is left out: it leaves no month from {month_words(first)} to "
            f"{month_words(last)}, which are considered. Check its year, or consider "
            "more months."
        )
    return found


def items_of_plate(session: Session, plate: Plate, region: Region) -> list[Item]:
    """Return what dates a plate by itself: its dates, and names kept as evidence.

    As `wherestood.daybook.when_exposed` weighs them, but for shadows and other plates.
    """
    gathered = gather_dates(session, plate)
    kept = seen_kept(session, plate, ("season", "period"))
    return [
        *gathered.items,
        *kept_items(kept, region, gathered.lat_deg, []),
    ]


def given_items(
    periods: Sequence[str], signs: Sequence[str], region: Region, lat_deg: float | None
) -> list[Item]:
    """Make items of names that are given.

    Raises
    ------
    InputError
        If a name is not known, or a sign is given and no latitude is known.
    """
    items: list[Item] = [
        period_item(name, name, region.known_periods()) for name in periods
    ]
    if signs and lat_deg is None:
        raise InputError(
            "A sign of the season needs the latitude, and the plate has no fix yet.",
            "Make a fix first: wherestood fix PLATE.",
        )
    for name in signs:
        items.append(
            season_item(f"sign {name}", name, lat_deg or 0.0, region.known_signs())
        )
    return items


def kept_items(
    kept: SeenKept, region: Region, lat_deg: float | None, left_out: list[str]
) -> list[Item]:
    """Make items of the names that a daybook keeps of a plate; tell what cannot be."""
    items: list[Item] = []
    for one in kept.of("period", "season"):
        name = one.seen.name if isinstance(one.seen, Named) else ""
        try:
            if one.kind == "period":
                item = period_item(one.key, name, region.known_periods())
            elif lat_deg is None:
                left_out.append(
                    f"{one.key} ({name}) waits for a fix: a sign of the season needs "
                    "the latitude."
                )
                continue
            else:
                item = season_item(one.key, name, lat_deg, region.known_signs())
        except WherestoodError as trouble:
            left_out.append(f"{one.key} is left out: {trouble.problem}")
            continue
        items.append(item if one.trust is None else replace(item, trust=one.trust))
    return items
