"""Gather what several plates of a daybook share, and solve them together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.keys import find
from wherestood.daybook.question import layers_of
from wherestood.daybook.tables import Detail, Feature, Fix, Mark, Plate
from wherestood.earth.frame import Frame
from wherestood.errors import InputError
from wherestood.ground.together import (
    Habit,
    Link,
    Outing,
    PlatePrior,
    Thing,
    Together,
    solve_together,
)
from wherestood.progress import SILENT, Progress
from wherestood.record.mapping_json import mapping_of_fix
from wherestood.terrain.ground import height_m
from wherestood.terrain.model import Surface, Terrain
from wherestood.terrain.read import open_terrain

__all__ = ["PlatesTogether", "say_same", "solve_plates"]

Array = NDArray[np.float64]
#: How well a mark is set, unless it says itself [px]: common practice.
_MARK_SD_PX = 3.0
#: What is marked where it meets the ground stands there within so much [m]; of what is
#: marked elsewhere only so much is believed: common practice.
_FOOT_SD_M, _ABOVE_M, _ABOVE_SD_M = 3.0, 5.0, 10.0
#: One maker's lens is one lens, but racked out and held otherwise each time; of a plate
#: height one maker's rise strays by so much: common practice.
_LENS_SD, _RISE_SHARE = 0.02, 0.05


@dataclass(frozen=True)
class PlatesTogether:
    """Hold plates that were solved together.

    Attributes
    ----------
    answer : Together
    frame : Frame
        The grid it is in.
    things : tuple of Feature
        The features, as the answer's things are.
    cautions : tuple of str
        What it holds under.
    """

    answer: Together
    frame: Frame
    things: tuple[Feature, ...]
    cautions: tuple[str, ...]


def say_same(
    book: Daybook, addresses: Sequence[str], person: str, why: str = ""
) -> str:
    """Say that details of several plates are one thing; return its key.

    Parameters
    ----------
    book : Daybook
    addresses : sequence of str
        Of the details, as in ``1987.12/A``.
    person, why : str
        Who says so, and why.

    Raises
    ------
    InputError
        If they are fewer than two, two of one plate, or taken for two things already.
    """
    with book.writing(person, why or "one thing on several plates") as session:
        details = [find(session, Detail, address) for address in addresses]
        if len({one.plate_id for one in details}) < max(len(details), 2):
            raise InputError(
                f"{', '.join(addresses)} are not details of as many plates.",
                "Name one detail of each plate, two or more.",
            )
        taken = {one.feature_id for one in details if one.feature_id}
        if len(taken) > 1:
            raise InputError(
                f"{', '.join(addresses)} are taken for {len(taken)} things already.",
                "Untie those that are wrong first.",
            )
        if taken:
            feature = session.get_one(Feature, taken.pop())
        else:
            said = next((one.what for one in details if one.what), None)
            feature = Feature(what=said or "thing on several plates")
            session.add(feature)
            session.flush()
        for one in details:
            one.feature_id = feature.id
        return feature.key


def solve_plates(
    book: Daybook,
    keys: Sequence[str],
    *,
    one_lens: bool = False,
    one_habit: bool = False,
    walk_m: float | None = None,
    progress: Progress = SILENT,
) -> PlatesTogether:
    """Solve plates of a daybook together, each from its newest fix.

    Parameters
    ----------
    book : Daybook
    keys : sequence of str
        The plates, in the order of exposure if ``walk_m`` is told.
    one_lens, one_habit : bool
        Whether one maker took them: with one lens; with one habit of rise.
    walk_m : float, optional
        How far the camera was carried from each to the next, about [m].
    progress : Progress
        Told how far it has come.

    Raises
    ------
    InputError
        If a plate has no fix, or no two of them show one thing.
    """
    if len(set(keys)) < 2:
        raise InputError("One plate alone has none to go with.", "Name two or more.")
    with book.reading() as session:
        fixes = [_newest_fix(session, key) for key in keys]
        things, features, links = _shared(session, fixes)
    progress.stage("opening the terrain")
    land = _ground(book, fixes[0], progress)
    plates, cautions = [], []
    for key, fix in zip(keys, fixes, strict=True):
        form: dict[str, Any] = fix.answer or {}
        mapping = mapping_of_fix(form, land)
        if len(mapping.places) > 1:
            mapping = mapping.at_place(1)
        if mapping.caution():
            cautions.append(f"{key}: {mapping.caution()}")
        plates.append(PlatePrior.of_draws(key, mapping.cameras))
    height_px = min(plate.height_px for plate in plates)
    everyone = tuple(range(len(plates)))
    habits = [Habit("log_distance", everyone, _LENS_SD)] if one_lens else []
    if one_habit:
        habits.append(Habit("rise_px", everyone, _RISE_SHARE * height_px))
    outings = [] if walk_m is None else [
        Outing((one, one + 1), walk_m) for one in range(len(plates) - 1)
    ]  # fmt: skip
    answer = solve_together(
        plates, [_placed(one) for one in things], links, habits=habits,
        outings=outings, ground=partial(_heights, land),
        curvature_per_m=mapping.ground.model.curvature_per_m, progress=progress,
    )  # fmt: skip
    return PlatesTogether(answer, land.frame, tuple(features), tuple(cautions))


def _heights(land: Terrain, east_m: Array, north_m: Array) -> Array:
    return np.asarray(height_m(land, east_m, north_m), dtype=np.float64)


def _ground(book: Daybook, fix: Fix, progress: Progress) -> Terrain:
    """Open the daybook's terrain about a fix."""
    answer: dict[str, Any] = fix.answer or {}
    with book.reading() as session:
        paths, surface = layers_of(book, session)
    if not paths:
        raise InputError(
            "The daybook has no terrain.", "Take an elevation model in first."
        )
    settings = answer["settings"]
    return open_terrain(
        paths,
        around=(answer["station"]["lon"], answer["station"]["lat"]),
        radius_m=float(settings.get("horizon_radius_m") or 30_000.0),
        surface=cast(Surface, surface),
        refraction=answer["terrain"]["refraction"],
        progress=progress,
    )


def _newest_fix(session: Session, key: str) -> Fix:
    plate = find(session, Plate, key)
    wanted = select(Fix).where(
        Fix.plate_id == plate.id, Fix.removed.is_(False), Fix.withdrawn.is_(None)
    )
    fix = session.scalars(wanted.order_by(Fix.made.desc()).limit(1)).first()
    if fix is None or not fix.answer:
        raise InputError(
            f"Plate {key} has no fix of its own to begin with.",
            "Look for where it was taken first, however unsure the answer.",
        )
    return fix


@dataclass(frozen=True)
class _Shown:
    """Hold a feature that plates show, and how its marks stand."""

    feature: Feature
    at_foot: bool


def _shared(
    session: Session, fixes: Sequence[Fix]
) -> tuple[list[_Shown], list[Feature], list[Link]]:
    """Return features without a place that two plates show, and their marks."""
    number = {fix.plate_id: i for i, fix in enumerate(fixes)}
    wanted = (
        select(Feature, Detail, Mark)
        .join(Detail, Detail.feature_id == Feature.id)
        .join(Mark, Mark.detail_id == Detail.id)
        .where(
            Detail.plate_id.in_(number), Detail.removed.is_(False),
            Mark.removed.is_(False), Feature.removed.is_(False),
            # What has a place was used by the plates' own fixes, mark and all.
            Feature.geometry.is_(None),
        )
        .order_by(Feature.key, Detail.key, Mark.key)
    )  # fmt: skip
    marks: dict[str, dict[int, Mark]] = {}
    known: dict[str, Feature] = {}
    for feature, detail, mark in session.execute(wanted):
        if mark.points_px:
            known[feature.id] = feature
            marks.setdefault(feature.id, {}).setdefault(number[detail.plate_id], mark)
    shown: list[_Shown] = []
    links: list[Link] = []
    for feature_id, on in marks.items():
        if len(on) < 2:
            continue
        feet = all(mark.at == "ground" for mark in on.values())
        for plate, mark in on.items():
            x, y = (mark.points_px or [[0.0, 0.0]])[0]
            sd_px = mark.sd_px or _MARK_SD_PX
            links.append(Link(plate, len(shown), float(x), float(y), sd_px))
        shown.append(_Shown(known[feature_id], feet))
    if not shown:
        raise InputError(
            "No two of these plates show one thing that has no place yet.",
            "Say which details are one thing: --same 1987.12/A,1987.13/C.",
        )
    return shown, [one.feature for one in shown], links


def _placed(shown: _Shown) -> Thing:
    """Return a feature as a thing that stands on the ground, or somewhat above it."""
    feature = shown.feature
    name = feature.what or feature.key
    if shown.at_foot:
        return Thing(name, above_ground_m=0.0, above_ground_sd_m=_FOOT_SD_M)
    return Thing(name, above_ground_m=_ABOVE_M, above_ground_sd_m=_ABOVE_SD_M)
