"""Pin a plan of the daybook to the ground, from its row and back into it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

import numpy as np

from wherestood.daybook.book import Daybook
from wherestood.daybook.keys import find
from wherestood.daybook.tables import Plan
from wherestood.earth.frame import Frame
from wherestood.errors import PlanError
from wherestood.plans import FitKind, LeftOut, Pinning, Pins, foretell_each, pin_sheet
from wherestood.plans.pins import GROUND_SD_M, SHEET_SD_PX

__all__ = ["PinnedPlan", "Relaid", "pin_plan", "pinned_plan", "pins_as_kept"]

#: Decimals of a degree: about a millimetre, so that pins come back as they were.
_ROUNDED = 8
_KNOWN = {"name", "x_px", "y_px", "lon_deg", "lat_deg", "sd_px", "sd_m"}


@dataclass(frozen=True)
class PinnedPlan:
    """Hold a plan as it is pinned, and the grid it is pinned on.

    Attributes
    ----------
    key : str
        The plan's key.
    pinning : Pinning
        From its pixels to metres of the grid.
    frame : Frame
        The grid, about the middle of its pins.
    """

    key: str
    pinning: Pinning
    frame: Frame


@dataclass(frozen=True)
class Relaid:
    """Hold what pinning a plan did.

    Attributes
    ----------
    plan : PinnedPlan
        As it is pinned now.
    left_out : LeftOut
        How well each pin is foretold by the others.
    shared_shift_sd_m : float
        Standard error of the shift all of it shares [m].
    moved : tuple of (str, float)
        Features traced from it that moved, and how far [m].
    """

    plan: PinnedPlan
    left_out: LeftOut
    shared_shift_sd_m: float
    moved: tuple[tuple[str, float], ...]


def pins_as_kept(pins: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return pins as a plan's row holds them.

    Parameters
    ----------
    pins : sequence of mapping
        ``x_px``, ``y_px``, ``lon_deg`` and ``lat_deg``; ``name``, ``sd_px``, ``sd_m``.

    Raises
    ------
    PlanError
        If a pin lacks a place, or holds what is not known.
    """
    kept = []
    for number, pin in enumerate(pins, 1):
        name = str(pin.get("name") or number)
        if unknown := set(pin) - _KNOWN:
            raise PlanError(
                f"Pin {name} holds {sorted(unknown)[0]!r}, which is not known.",
                f"Give {', '.join(sorted(_KNOWN))}.",
            )
        row: dict[str, Any] = {"name": name}
        for field in ("x_px", "y_px", "lon_deg", "lat_deg"):
            row[field] = _number(pin.get(field), name, field)
        for field in ("sd_px", "sd_m"):
            if pin.get(field) is not None:
                row[field] = _number(pin[field], name, field)
        if not (abs(row["lat_deg"]) <= 90.0 and abs(row["lon_deg"]) <= 360.0):
            raise PlanError(
                f"Pin {name} lies at longitude {row['lon_deg']:g} and latitude "
                f"{row['lat_deg']:g}, which is nowhere.",
                "Give longitude, then latitude, in degrees.",
            )
        row |= {one: round(row[one], _ROUNDED) for one in ("lon_deg", "lat_deg")}
        kept.append(row)
    names = [row["name"] for row in kept]
    if twice := {name for name in names if names.count(name) > 1}:
        raise PlanError(
            f"Two pins are called {min(twice)!r}.", "Give each a name of its own."
        )
    return kept


def _number(value: Any, name: str, field: str) -> float:
    try:
        number = float(value)
    except (TypeError, ValueError) as error:
        raise PlanError(
            f"The {field} of pin {name} is {value!r}, and no number.",
            "Give it as a number.",
        ) from error
    if not np.isfinite(number):
        raise PlanError(f"The {field} of pin {name} is no number.", "Give it anew.")
    return number


def pinned_plan(plan: Plan) -> PinnedPlan:
    """Return a plan as its row says that it is pinned.

    Raises
    ------
    PlanError
        If it has no pins, or they do not hold it.
    """
    if not plan.pins:
        raise PlanError(
            f"The plan {plan.key} is not pinned to the ground.",
            "Pin places of it: wherestood plans pin.",
        )
    rows = pins_as_kept(plan.pins)
    lon, lat = (np.array([row[one] for row in rows]) for one in ("lon_deg", "lat_deg"))
    # About the first pin, across the antimeridian too.
    lon = lon[0] + (lon - lon[0] + 180.0) % 360.0 - 180.0
    frame = Frame.local(float(lon.mean()), float(lat.mean()))
    pins = Pins.of(
        [[row["x_px"], row["y_px"]] for row in rows],
        np.column_stack(frame.from_lonlat(lon, lat)),
        names=[row["name"] for row in rows],
        sheet_sd_px=[row.get("sd_px", SHEET_SD_PX) for row in rows],
        ground_sd_m=[row.get("sd_m", GROUND_SD_M) for row in rows],
    )
    kind = cast("FitKind | None", plan.fit)
    return PinnedPlan(
        plan.key, pin_sheet(pins, kind, mirrored=bool(plan.mirrored)), frame
    )


def pin_plan(
    daybook: Daybook,
    plan: str,
    person: str,
    *,
    pins: Sequence[Mapping[str, Any]] | None = None,
    fit: FitKind | None = None,
    mirrored: bool | None = None,
    why: str = "",
    dry_run: bool = False,
) -> Relaid:
    """Pin a plan; what was traced from it moves along, in the same act.

    Parameters
    ----------
    daybook : Daybook
        Where.
    plan : str
        Its key.
    person, why : str
        Who, and why.
    pins : sequence of mapping, optional
        As of `pins_as_kept`; those that it has unless told.
    fit, mirrored
        As of `wherestood.plans.pin_sheet`; as they are unless told, but that new
        pins choose their fit anew.
    dry_run : bool
        Whether nothing is kept of it.

    Raises
    ------
    PlanError
        If the pins do not hold the plan. Nothing is changed then.
    """
    from wherestood.daybook.plan_traced import places_of_traced

    with daybook.reading() as session:
        found = find(session, Plan, plan)
        tried = Plan(
            key=found.key,
            pins=pins_as_kept(pins) if pins is not None else found.pins,
            fit=fit or (found.fit if pins is None else None),
            mirrored=found.mirrored if mirrored is None else mirrored,
        )
    pinned = pinned_plan(tried)
    left_out = foretell_each(
        pinned.pinning.pins,
        pinned.pinning.kind,
        mirrored=bool(tried.mirrored),
    )
    if dry_run:
        with daybook.reading() as session:
            moved = places_of_traced(session, find(session, Plan, plan), pinned)
            return _relaid(pinned, left_out, moved)
    with daybook.writing(person, why or "pinned") as session:
        row = find(session, Plan, plan)
        moved = places_of_traced(session, row, pinned)
        row.pins, row.fit, row.mirrored = (
            tried.pins,
            pinned.pinning.kind,
            tried.mirrored,
        )
    return _relaid(pinned, left_out, moved)


def _relaid(
    pinned: PinnedPlan, left_out: LeftOut, moved: Mapping[str, float]
) -> Relaid:
    from wherestood.plans.error_parts import shared_shift_sd_m

    return Relaid(
        pinned, left_out, shared_shift_sd_m(pinned.pinning), tuple(moved.items())
    )
