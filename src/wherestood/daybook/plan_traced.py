"""Trace things from a pinned plan, and move them as its pins do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from sqlalchemy import inspect, select
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.keys import find
from wherestood.daybook.plan_pins import PinnedPlan, pinned_plan
from wherestood.daybook.records import set_fields
from wherestood.daybook.tables import Feature, Plan
from wherestood.earth.frame import Frame
from wherestood.errors import PlanError
from wherestood.plans.error_parts import own_sd_m, shared_shift_sd_m
from wherestood.plans.pinned import Pinning

__all__ = ["TracedThing", "follow_pins", "places_of_traced", "trace_plan"]

Shape = Literal["point", "line", "outline"]
Drawn = Literal["surveyed", "sketched"]
_LEAST: dict[str, int] = {"point": 1, "line": 2, "outline": 3}
_ROUNDED = 7  # decimals of a degree: about a centimetre (RFC 7946, section 11.2)
#: How far off a surveyed line is drawn and followed [px], and a sketched one, as a
#: share of the pins' diagonal: common practice.
_SURVEYED_PX, _SKETCHED_SHARE = 2.0, 0.01


@dataclass(frozen=True)
class TracedThing:
    """Be a thing that somebody followed on a plan.

    Attributes
    ----------
    what : str
        What it is: fence, shore, corner.
    shape : {"point", "line", "outline"}
        What was drawn.
    points_px : sequence of (x, y)
        On the plan [px].
    drawn : {"surveyed", "sketched"}
        How it came onto the plan.
    drawn_sd_m : float, optional
        How far off it was drawn, along one axis; by how it came onto the plan unless
        told [m].
    name : str
        Its key; one is given unless told.
    """

    what: str
    shape: Shape
    points_px: Sequence[Sequence[float]]
    drawn: Drawn
    drawn_sd_m: float | None = None
    name: str = ""


def trace_plan(
    daybook: Daybook,
    plan: str,
    things: Sequence[TracedThing],
    person: str,
    *,
    fields: Mapping[str, Any] | None = None,
    why: str = "",
) -> list[dict[str, Any]]:
    """Make features of what was traced from a plan.

    Parameters
    ----------
    daybook : Daybook
        Where.
    plan : str
        Key of a pinned plan.
    things : sequence of TracedThing
        What was traced.
    person, why : str
        Who, and why.
    fields : mapping, optional
        What else all of them hold, by the field's name: years, a source.

    Returns
    -------
    list of dict
        The features' records.

    Raises
    ------
    PlanError
        If the plan is not pinned, or a thing cannot be; nothing is kept then.
    """
    from wherestood.daybook.records import record_of

    with daybook.writing(person, why or "traced from a plan") as session:
        row = find(session, Plan, plan)
        pinned = pinned_plan(row)
        shared = shared_shift_sd_m(pinned.pinning)
        row.shared_shift_sd_m = row.shared_shift_sd_m or round(shared, 3)
        made = []
        for number, thing in enumerate(things, 1):
            feature = Feature(what=thing.what, plan_id=row.id, drawn=thing.drawn)
            if thing.name:
                feature.key = thing.name
            feature.traced = _as_kept(thing, number, row, pinned.pinning)
            _lay(feature, pinned, shared)
            feature.source_words = f"traced from {row.title or 'the plan ' + row.key}"
            set_fields(session, feature, fields or {})
            session.add(feature)
            made.append(feature)
        session.flush()
        return [record_of(session, feature) for feature in made]


def _as_kept(
    thing: TracedThing, number: int, plan: Plan, pinning: Pinning
) -> dict[str, Any]:
    called = f"Thing {number} ({thing.what})"
    points = np.asarray(thing.points_px, dtype=np.float64).reshape(-1, 2)
    least = _LEAST.get(thing.shape)
    if least is None or len(points) < least or (least == 1 and len(points) > 1):
        raise PlanError(
            f"{called} is a {thing.shape} of {len(points)} points.",
            "A point has one, a line two or more, an outline three or more.",
        )
    if thing.drawn not in ("surveyed", "sketched"):
        raise PlanError(
            f"{called} is {thing.drawn!r}.", "Say whether it is surveyed or sketched."
        )
    if not np.all(np.isfinite(points)):
        raise PlanError(f"{called} holds what is no number.", "Give pixels.")
    if plan.width_px and plan.height_px:
        size = [plan.width_px, plan.height_px]
        outside = (points < 0.0).any(axis=1) | (points > size).any(axis=1)
        if np.any(outside):
            x, y = points[int(np.argmax(outside))]
            raise PlanError(
                f"{called} reaches ({x:.0f}, {y:.0f}) px, beyond the sheet of "
                f"{plan.width_px} x {plan.height_px}.",
                "Give pixels of the whole sheet, from its upper left corner.",
            )
    sd = thing.drawn_sd_m
    if sd is not None and not (np.isfinite(sd) and sd >= 0.0):
        raise PlanError(
            f"{called} was drawn {sd} m off, which cannot be.",
            "Give metres, 0 or more.",
        )
    if sd is None:
        pins = pinning.pins.ground_m
        diagonal = float(np.linalg.norm(pins.max(axis=0) - pins.min(axis=0)))
        sketched = _SKETCHED_SHARE * diagonal
        surveyed = _SURVEYED_PX * pinning.metres_per_px
        sd = surveyed if thing.drawn == "surveyed" else sketched
    return {
        "shape": thing.shape,
        "points_px": [[round(float(v), 2) for v in point] for point in points],
        "drawn_sd_m": round(float(sd), 3),
    }


def _lay(feature: Feature, pinned: PinnedPlan, shared: float) -> None:
    """Set a feature's place and standard error from what was traced."""
    traced = feature.traced or {}
    points = np.asarray(traced["points_px"], dtype=np.float64)
    ground = pinned.pinning.to_ground(points)
    if not np.all(np.isfinite(ground)):
        raise PlanError(
            f"What was traced for {feature.what or 'a feature'} lies beyond the plan's "
            "own horizon.",
            "Pin places about it.",
        )
    feature.geometry = _geometry(traced["shape"], ground, pinned.frame)
    sd = own_sd_m(pinned.pinning, points, float(traced["drawn_sd_m"]), shared)
    feature.sd_m = round(sd, 3)


def _geometry(shape: str, ground: Any, frame: Frame) -> dict[str, Any]:
    lon, lat = frame.to_lonlat(ground[:, 0], ground[:, 1])
    places = [
        [round(float(e), _ROUNDED), round(float(n), _ROUNDED)]
        for e, n in zip(lon, lat, strict=True)
    ]
    if shape == "point":
        return {"type": "Point", "coordinates": places[0]}
    if shape == "line":
        return {"type": "LineString", "coordinates": places}
    return {"type": "Polygon", "coordinates": [[*places, places[0]]]}


def _traced(session: Session, plan: Plan) -> list[Feature]:
    wanted = select(Feature).where(
        Feature.plan_id == plan.id, Feature.withdrawn.is_(None)
    )
    with session.no_autoflush:
        found = session.scalars(wanted.order_by(Feature.key)).all()
    return [feature for feature in found if feature.traced]


def places_of_traced(
    session: Session, plan: Plan, pinned: PinnedPlan
) -> dict[str, float]:
    """Return how far each thing traced from a plan would move, by its key [m]."""
    moved = {}
    for feature in _traced(session, plan):
        traced = feature.traced or {}
        ground = pinned.pinning.to_ground(traced["points_px"])
        shape = feature.geometry or {}
        places = shape.get("coordinates", [])
        if shape.get("type") == "Point":
            places = [places]
        elif shape.get("type") == "Polygon":
            places = places[0][:-1]
        if len(places) != len(ground):
            continue
        lonlat = np.asarray(places, dtype=np.float64)
        before = np.column_stack(pinned.frame.from_lonlat(lonlat[:, 0], lonlat[:, 1]))
        apart = np.linalg.norm(ground - before, axis=1)
        moved[feature.key] = float(np.sqrt((apart**2).mean()))
    return moved


def follow_pins(session: Session, plan: Plan) -> None:
    """Lay anew what was traced from a plan whose pins were changed.

    Raises
    ------
    PlanError
        If the new pins do not hold the plan, and something was traced from it.
    """
    traced = _traced(session, plan)
    if not plan.pins and not traced:
        return
    try:
        pinned = pinned_plan(plan)
    except PlanError as error:
        if not traced:
            return  # pins come one by one
        raise PlanError(
            f"{error.problem} {len(traced)} features were traced from plan {plan.key} "
            "and would lose their place; nothing was changed.",
            error.remedy,
        ) from error
    shared = shared_shift_sd_m(pinned.pinning)
    told = inspect(plan).attrs["shared_shift_sd_m"].history.has_changes()
    if not told:  # what a person says with the pins stands
        plan.shared_shift_sd_m = round(shared, 3)
    for feature in traced:
        _lay(feature, pinned, shared)
