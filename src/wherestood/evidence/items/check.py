"""Check items of evidence against one another, the scan and the terrain."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from wherestood.errors import EvidenceError
from wherestood.evidence.items.changed_ground import ChangedGround, contradictions
from wherestood.evidence.items.cycles import orders_in_cycles
from wherestood.evidence.items.evidence import KINDS, Evidence, gather
from wherestood.evidence.items.feature import Feature
from wherestood.evidence.items.item import Item
from wherestood.evidence.items.on_plate import Mark
from wherestood.evidence.items.relations import Hidden, InLine, Order, Seen
from wherestood.evidence.items.statement import Statement
from wherestood.plate.skyline import Skyline

__all__ = [
    "Checked",
    "Complaint",
    "HasHeight",
    "as_checked",
    "check_evidence",
    "names_like",
]

#: Says of places, longitude and latitude [deg], whether a height is known there.
HasHeight = Callable[
    [NDArray[np.float64], NDArray[np.float64]],
    NDArray[np.bool_],
]

#: A message lists no more names than this.
_MOST_NAMES = 8


@dataclass(frozen=True)
class Complaint:
    """Say what is wrong with an item, and what to do.

    Attributes
    ----------
    kind, item : str
        Kind and id of the item.
    problem, remedy : str
        What is wrong, and what to do, a sentence each.
    dropped : bool
        Whether the item was left out.
    field : str
        The value at fault, empty where it is the whole item.
    file : str
        Name of the evidence file, empty without one.
    line : int or None
        Line of the file, counted from 1.
    """

    kind: str
    item: str
    problem: str
    remedy: str
    dropped: bool = True
    field: str = ""
    file: str = ""
    line: int | None = None

    @classmethod
    def of(cls, error: EvidenceError) -> Complaint:
        """Make a complaint of an error."""
        return cls(
            error.kind, error.item, error.problem, error.remedy, field=error.field
        )

    def __str__(self) -> str:
        """Return it as a person reads it."""
        where = f"{self.file}, line {self.line}: " if self.line else ""
        left_out = " It is left out." if self.dropped else ""
        return f"{where}{self.problem} {self.remedy}{left_out}"


@dataclass(frozen=True)
class Checked:
    """Hold the evidence that can be used, and what is wrong with the rest."""

    evidence: Evidence
    complaints: tuple[Complaint, ...]


def as_checked(evidence: Evidence | Checked | Iterable[Item | Skyline]) -> Checked:
    """Return evidence, however given, with what was wrong with the rest of it."""
    if isinstance(evidence, Checked):
        return evidence
    return Checked(evidence if isinstance(evidence, Evidence) else gather(evidence), ())


def check_evidence(
    evidence: Evidence,
    *,
    width_px: float | None = None,
    height_px: float | None = None,
    has_height: HasHeight | None = None,
    left_out: Iterable[str] = (),
) -> Checked:
    """Keep what can be used, and say what is wrong with the rest.

    Parameters
    ----------
    evidence : Evidence
        What was given.
    width_px, height_px : float, optional
        Size of the scan [px]; without it marks are not held to it.
    has_height : callable, optional
        Says whether the terrain has a height at longitudes and latitudes [deg];
        without it features are not held to it.
    left_out : iterable of str
        Ids of items that were given and could not be read.

    Returns
    -------
    Checked
        Repeated ids (the first is kept), unknown references, orders that contradict
        one another, marks outside the scan, and items that need the height of a
        feature outside the terrain are left out, each with a complaint; the rest
        is kept.
    """
    complaints: list[Complaint] = []
    kept = _without_repeats(evidence, complaints)
    if width_px is not None and height_px is not None:
        kept = _within_scan(kept, width_px, height_px, complaints)
    kept = _without_contradictions(kept, complaints)
    given = {item.id for item in (*evidence.plans, *evidence.features)}
    given |= {item.id for item in evidence.changed_ground}
    given |= {item.id for item in evidence.items()} | set(left_out)
    kept = _without_unknown(kept, given, complaints)
    if has_height is not None:
        kept = _on_terrain(kept, has_height, given, complaints)
        kept = _changes_on_terrain(kept, has_height, complaints)
    for error in orders_in_cycles(kept):
        complaints.append(Complaint.of(error))
    kept = kept.without(c.item for c in complaints if c.kind == Order.kind)
    return Checked(kept, tuple(complaints))


def names_like(name: str, known: Iterable[str]) -> str:
    """Return "did you mean" with the nearest known name, or what there is."""
    names = sorted(set(known))
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    if near:
        return f"Did you mean {near[0]!r}?"
    if not names:
        return "None is given."
    shown = ", ".join(names[:_MOST_NAMES])
    return f"Choose one of: {shown}{', ...' if len(names) > _MOST_NAMES else ''}."


def _without_repeats(evidence: Evidence, complaints: list[Complaint]) -> Evidence:
    """Keep the first of every id: ids are shared by all kinds."""
    first: dict[str, str] = {}
    kept: dict[str, tuple[Item, ...]] = {}
    for name in KINDS:
        items = []
        for item in getattr(evidence, name):
            if item.id in first:
                complaints.append(
                    _complaint(
                        item,
                        "id",
                        f"its id is that of a {first[item.id]} before it",
                        "Give every item an id of its own.",
                    )
                )
                continue
            first[item.id] = item.kind
            items.append(item)
        kept[name] = tuple(items)
    return replace(evidence, **kept)  # type: ignore[arg-type]


def _without_contradictions(
    evidence: Evidence, complaints: list[Complaint]
) -> Evidence:
    """Leave out ground that is told otherwise before it, for the same years."""
    gone: set[str] = set()
    for first, second in contradictions(evidence.changed_ground):
        if first.id in gone or second.id in gone:
            continue
        gone.add(second.id)
        complaints.append(
            _complaint(
                second,
                "geometry",
                f"it lies over {first.id!r}, which says that the same ground was "
                f"otherwise ({first.change}, not {second.change}) in the same years",
                "Keep one of the two, part their outlines, or give the years so that "
                "one ends before the other begins.",
            )
        )
    return evidence.without(gone)


def _changes_on_terrain(
    evidence: Evidence, has_height: HasHeight, complaints: list[Complaint]
) -> Evidence:
    gone = set()
    for item in evidence.changed_ground:
        lon, lat = _spread_over(item).T
        if not has_height(lon, lat).any():
            gone.add(item.id)
            complaints.append(
                _complaint(
                    item,
                    "geometry",
                    "it lies outside the terrain, where no height is known",
                    "Check its coordinates, longitude first, or give terrain that "
                    "reaches it.",
                )
            )
    return evidence.without(gone)


def _spread_over(item: ChangedGround) -> NDArray[np.float64]:
    """Return points over an area, its corners too, as (longitude, latitude)."""
    west, south, east, north = item.geometry.bounds
    lon, lat = np.meshgrid(np.linspace(west, east, 24), np.linspace(south, north, 24))
    inside = shapely.contains_xy(item.geometry, lon, lat)
    own = item.geometry.representative_point()
    return np.concatenate(
        (
            np.column_stack((lon[inside], lat[inside])),
            shapely.get_coordinates(own),
            shapely.get_coordinates(item.geometry),
        )
    )


def _within_scan(
    evidence: Evidence, width_px: float, height_px: float, complaints: list[Complaint]
) -> Evidence:
    gone = set()
    for item in evidence.items():
        for field, (x, y) in _points_of(item):
            if not (0.0 <= x <= width_px and 0.0 <= y <= height_px):
                complaints.append(
                    _complaint(
                        item,
                        field,
                        f"the point ({x:g}, {y:g}) lies outside the scan of "
                        f"{width_px:g} x {height_px:g} px",
                        "Give pixels of this scan, upright, from its top-left corner.",
                    )
                )
                gone.add(item.id)
                break
    return evidence.without(gone)


def _points_of(item: Item) -> Iterator[tuple[str, tuple[float, float]]]:
    if isinstance(item, Mark):
        yield ("x_px", (item.x_px, item.y_px))
    for point in getattr(item, "points_px", ()):
        yield ("points_px", point)


def _without_unknown(
    evidence: Evidence, given: set[str], complaints: list[Complaint]
) -> Evidence:
    """Leave out what refers to nothing, until all that is left does."""
    kept = evidence
    while True:
        gone = set()
        features = {feature.id: feature for feature in kept.features}
        details = {*features, *(mark.id for mark in kept.marks if mark.identities)}
        plans = {plan.id for plan in kept.plans}
        for feature in kept.features:
            if feature.plan_id and feature.plan_id not in plans:
                complaints.append(
                    _unknown(feature, "plan", feature.plan_id, plans, given)
                )
                gone.add(feature.id)
        for item in kept.items():
            known = details if isinstance(item, InLine | Order) else set(features)
            missing = [name for name in item.speaks_of() if name not in known]
            if missing:
                complaints.append(_unknown(item, "", missing[0], known, given))
                gone.add(item.id)
            elif isinstance(item, Statement):
                try:
                    item.check_shape(features[item.speaks_of()[0]])
                except EvidenceError as error:
                    complaints.append(Complaint.of(error))
                    gone.add(item.id)
        if not gone:
            break
        kept = kept.without(gone)
    _check_derivations(kept, given, complaints)
    return kept


def _check_derivations(
    kept: Evidence, given: set[str], complaints: list[Complaint]
) -> None:
    # What it is derived from may have been left out: only a name never given is
    # a slip of the pen.
    for item in (*kept.features, *kept.items()):
        for name in item.derived_from:
            if name not in given:
                complaint = _unknown(item, "derived_from", name, given, given)
                complaints.append(replace(complaint, dropped=False))
    statements = {statement.id for statement in kept.statements}
    for name in kept.ground_from:
        if name not in statements | given:
            complaints.append(
                Complaint(
                    "evidence",
                    name,
                    f"The ground searched is said to come from {name!r}, which is no "
                    "statement.",
                    names_like(name, statements),
                    dropped=False,
                    field="ground_from",
                )
            )


def _unknown(
    item: Item, field: str, name: str, known: Iterable[str], given: set[str]
) -> Complaint:
    if name in given and name not in known:
        return _complaint(
            item,
            field,
            f"it refers to {name!r}, which is left out or is no feature",
            "Mend that first.",
        )
    return _complaint(
        item,
        field,
        f"it refers to {name!r}, which is not there",
        names_like(name, known),
    )


def _on_terrain(
    evidence: Evidence,
    has_height: HasHeight,
    given: set[str],
    complaints: list[Complaint],
) -> Evidence:
    """Leave out what needs the height of ground that is not known."""
    gone: set[str] = set()
    for feature in evidence.features:
        if _stands_on_known_ground(feature, has_height):
            continue
        needing = [i for i in evidence.items() if _needs_height(i, feature.id)]
        gone.update(item.id for item in needing)
        names = ", ".join(repr(item.id) for item in needing)
        left_out = f" Left out with it: {names}." if needing else ""
        complaints.append(
            replace(
                _complaint(
                    feature,
                    "geometry",
                    "it lies outside the terrain, where no height is known",
                    f"Give its height_m, or terrain that reaches it.{left_out}",
                ),
                dropped=False,
            )
        )
    if not gone:
        return evidence
    return _without_unknown(evidence.without(gone), given, complaints)


def _stands_on_known_ground(feature: Feature, has_height: HasHeight) -> bool:
    if feature.height_m is not None:
        return True
    corners = shapely.get_coordinates(feature.place)
    return bool(has_height(corners[:, 0], corners[:, 1]).any())


def _needs_height(item: Item, feature_id: str) -> bool:
    if feature_id not in item.speaks_of():
        return False
    return isinstance(item, Mark | Seen | Hidden) or (
        isinstance(item, Order) and not item.sideways
    )


def _complaint(item: Item, field: str, problem: str, remedy: str) -> Complaint:
    return Complaint.of(item.refusal(field, problem, remedy))
