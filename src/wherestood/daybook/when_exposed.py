"""Date a plate of a daybook, by what it keeps and what is given beside."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy.orm import Session

from wherestood.dating.advice import Offer, advise_date
from wherestood.dating.agreement import Contribution, contributions
from wherestood.dating.items import Item
from wherestood.dating.seen_on_plate import (
    CLOCKS,
    HOUR_SD_MIN,
    HourKnown,
    minutes_of_hour,
    single_day,
)
from wherestood.dating.shadow import Shadow
from wherestood.dating.shadow_edge import Edge
from wherestood.dating.shadow_points import LEVEL_GROUND, Ground, sights
from wherestood.dating.sun_fit import Face
from wherestood.dating.sun_path import Where
from wherestood.dating.weigh import Weighed, months_considered, weigh
from wherestood.daybook.book import Daybook
from wherestood.daybook.camera_of_fix import FixedCamera, fixed_camera, last_fix
from wherestood.daybook.date_items import exact_days, gather_dates
from wherestood.daybook.hills import Hills
from wherestood.daybook.keys import find
from wherestood.daybook.named_items import (
    given_items,
    items_of_plate,
    kept_items,
    those_within,
)
from wherestood.daybook.plates_in_order import items_by_order, read_orders
from wherestood.daybook.region import Region, calendar_questions, region_with
from wherestood.daybook.seen_kept import SeenKept, seen_kept, water_sentences
from wherestood.daybook.sun_of_plate import (
    TRUST,
    BySun,
    Marked,
    SunTold,
    day_weights,
    feet_of,
    season_by_sun,
    tell_sun,
)
from wherestood.daybook.tables import Plate
from wherestood.errors import InputError
from wherestood.evidence.edtf import Day

__all__ = ["Dated", "Given", "date_of_plate", "given_marks"]

_POINT = re.compile(r"^\s*(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)\s*$")
#: Kinds that need the camera of a fix.
_BY_CAMERA = ("shadow", "shadow_edge", "lit_face")


@dataclass(frozen=True)
class Given:
    """Be what is given beside what the daybook keeps.

    Attributes
    ----------
    periods, signs : tuple of str
        Names of processes and mounts, and of signs of the season.
    own_periods, own_signs : (str, str) or None
        A file of the person's own: its text and name; that which the daybook keeps
        unless given.
    between : str or None
        Months considered, an EDTF span; those of the region unless given.
    shadows : tuple of str
        ``foot:tip:top``, each ``x,y`` [px].
    edges : tuple of str
        ``foot:top:shadow:bearing`` of a wall, its places ``x,y`` [px].
    lit, unlit : tuple of float
        True bearings that faces look, which the sun falls on, and which not [deg].
    slope : str or None
        ``degrees,bearing`` in which the ground under them rises.
    day, hour : str or None
        The day, EDTF, and ``h:mm``, where they are known.
    clock : str
        By which clock: ``local mean``, ``by the sun``, ``zone``.
    zone_hours : float or None
        The zone's hours ahead of universal time.
    after_plates, before_plates : tuple of str
        Keys of plates that are older, and younger; each may have its trust behind a
        comma.
    """

    periods: tuple[str, ...] = ()
    signs: tuple[str, ...] = ()
    own_periods: tuple[str, str] | None = None
    own_signs: tuple[str, str] | None = None
    between: str | None = None
    shadows: tuple[str, ...] = ()
    edges: tuple[str, ...] = ()
    lit: tuple[float, ...] = ()
    unlit: tuple[float, ...] = ()
    slope: str | None = None
    day: str | None = None
    hour: str | None = None
    clock: str = "local mean"
    zone_hours: float | None = None
    after_plates: tuple[str, ...] = ()
    before_plates: tuple[str, ...] = ()


@dataclass(frozen=True)
class Dated:
    """Hold when a plate was exposed, and by what."""

    whole: Weighed
    contributions: tuple[Contribution, ...]
    offers: tuple[Offer, ...]
    left_out: tuple[str, ...]
    sun: SunTold | None


def date_of_plate(
    book: Daybook, key: str, given: Given, hills: Hills | None = None
) -> Dated:
    """Date a plate.

    Parameters
    ----------
    book : Daybook
    key : str
        The plate's.
    given : Given
        What counts beside.
    hills : callable, optional
        Gives the horizon about what lies in the sun; without it no hill hides the sun.

    Returns
    -------
    Dated

    Raises
    ------
    InputError
        If what is given cannot be used; shadows also want a fix.
    """
    beside = given_marks(given)
    with book.reading() as session:
        plate = find(session, Plate, key)
        gathered = gather_dates(session, plate)
        exact = exact_days(session, plate)
        fixed = _fixed(session, plate, wanted=beside.says_anything)
        kept = seen_kept(session, plate, places=fixed.places if fixed else None)
        left_out = [*gathered.left_out, *kept.left_out]
        region = region_with(session, given.own_periods, given.own_signs)
        lat_deg = gathered.lat_deg
        items = [*gathered.items]
        items += given_items(given.periods, given.signs, region, lat_deg)
        items += kept_items(kept, region, lat_deg, left_out)
        first, last = months_considered(given.between or region.between)
        items = those_within(items, first, last, left_out)
        left_out += water_sentences(kept)
        left_out += calendar_questions(session, plate) if region.julian else []
        by_order, not_counted = _by_order(session, plate, items, given, region)
    items += by_order
    left_out += [one for one in not_counted if one not in left_out]
    marked = _marked(kept, beside, fixed)
    if not marked.says_anything and (given.hour is not None or given.day is not None):
        raise InputError(
            "A day or an hour is given, but no shadow that it could be held against.",
            "Mark a shadow: --shadow FOOT:TIP:TOP.",
        )
    by_sun = None
    if fixed is None and kept.of(*_BY_CAMERA):
        left_out.append(
            "Shadows and lit faces wait for a fix, which tells how the camera looked."
        )
    elif fixed is not None and marked.says_anything:
        horizon = None
        if hills is not None:
            seen = sights(fixed.camera, feet_of(marked))
            horizon = hills(fixed.lon_deg, fixed.lat_deg, fixed.lens_m, seen)
        where = Where(fixed.lon_deg, fixed.lat_deg, fixed.lens_m, horizon)
        by_sun = BySun.of(fixed, marked, where)
    season = None if by_sun is None else season_by_sun(by_sun)
    without_sun = weigh(items, first, last)
    items += [] if season is None else [season]
    whole = without_sun if season is None else weigh(items, first, last)
    sun = None
    day = None if given.day is None else single_day(given.day)
    if by_sun is not None and without_sun.possible:
        sun = tell_sun(by_sun, *day_weights(without_sun, exact), day)
    elif by_sun is not None:
        left_out.append(
            "The dates contradict one another, so the hour cannot be reckoned."
        )
    return Dated(
        whole,
        contributions(items, whole),
        advise_date(items, whole, gathered.standing),
        tuple(left_out),
        sun,
    )


def _by_order(
    session: Session, plate: Plate, items: list[Item], given: Given, region: Region
) -> tuple[list[Item], list[str]]:
    """Return what plates that are older or younger say, each by its own dates."""
    first, last = months_considered(given.between or region.between)

    def alone(other: Plate) -> Weighed:
        return weigh(items_of_plate(session, other, region), first, last)

    beside = read_orders(given.after_plates, given.before_plates)
    return items_by_order(session, plate, weigh(items, first, last), beside, alone)


def _fixed(session: Session, plate: Plate, *, wanted: bool) -> FixedCamera | None:
    """Return the camera of the plate's fix; None without one, unless it is wanted."""
    if not wanted and last_fix(session, plate) is None:
        return None
    try:
        return fixed_camera(session, plate)
    except InputError:
        if wanted:
            raise
        return None


def _marked(kept: SeenKept, beside: Marked, fixed: FixedCamera | None) -> Marked:
    """Join what is kept and what is given; an hour given stands for those kept."""

    def of(kind: type) -> list[tuple[str, Any]]:
        return [(one.key, one.seen) for one in kept.items if isinstance(one.seen, kind)]

    if fixed is not None and fixed.places is not None:
        beside = _straightened(beside, fixed)
    trusts = [one.trust for one in kept.of(*_BY_CAMERA) if one.trust is not None]
    return Marked(
        (*of(Shadow), *beside.shadows),
        (*of(Edge), *beside.edges),
        (*of(Face), *beside.faces),
        beside.hours or tuple(of(HourKnown)),
        min(trusts, default=TRUST),
    )


def _straightened(beside: Marked, fixed: FixedCamera) -> Marked:
    """Carry places that were given on the scan to the straightened plate."""
    assert fixed.places is not None

    def moved(thing: Any, *names: str) -> Any:
        assert fixed.places is not None
        there = [name for name in names if getattr(thing, name) is not None]
        points = fixed.places([list(getattr(thing, name)) for name in there])
        return replace(
            thing, **{name: tuple(p) for name, p in zip(there, points, strict=True)}
        )

    return replace(
        beside,
        shadows=tuple(
            (key, moved(one, "foot_px", "tip_px", "top_px"))
            for key, one in beside.shadows
        ),
        edges=tuple(
            (key, moved(one, "foot_px", "top_px", "shadow_px"))
            for key, one in beside.edges
        ),
    )


def given_marks(given: Given) -> Marked:
    """Read the marks and the hour that are given beside what is kept.

    Raises
    ------
    InputError
        If one cannot be read.
    """
    ground = _ground(given.slope)
    return Marked(
        tuple((_numbered("shadow", i, given.shadows), _shadow(text, ground))
              for i, text in enumerate(given.shadows, 1)),
        tuple((_numbered("edge", i, given.edges), _edge(text, ground))
              for i, text in enumerate(given.edges, 1)),
        (*((f"lit {looks:g}", Face(looks, lit=True)) for looks in given.lit),
         *((f"unlit {looks:g}", Face(looks, lit=False)) for looks in given.unlit)),
        () if given.hour is None else (("the hour given", _hour(given)),),
    )  # fmt: skip


def _numbered(what: str, number: int, given: tuple[str, ...]) -> str:
    return f"the {what} given" if len(given) == 1 else f"{what} {number} given"


def _hour(given: Given) -> HourKnown:
    if given.clock not in CLOCKS:
        raise InputError(
            f"No clock is called {given.clock!r}.",
            f"Choose one of: {', '.join(CLOCKS)}.",
        )
    if given.clock == "zone" and given.zone_hours is None:
        raise InputError(
            "The hour is of a zone, but not of which.",
            "Give the zone's hours ahead of universal time: --zone 1.",
        )
    day: Day | None = None if given.day is None else single_day(given.day)
    minutes = minutes_of_hour(given.hour or "")
    return HourKnown(minutes, HOUR_SD_MIN, given.clock, given.zone_hours, day)


def _points(parts: list[str], what: str, form: str) -> list[tuple[float, float]]:
    found = [_POINT.match(part) for part in parts]
    if not all(found):
        raise InputError(
            f"The {what} {':'.join(parts)!r} is not {form}.",
            "Write places in pixels, as in 1200,3400:1500,3420:1210,3100.",
        )
    return [(float(each[1]), float(each[2])) for each in found if each]


def _shadow(text: str, ground: Ground) -> Shadow:
    parts = text.split(":")
    if len(parts) not in (2, 3):
        raise InputError(
            f"The shadow {text!r} is not foot:tip:top.",
            "Write three places in pixels, as in 1200,3400:1500,3420:1210,3100; the "
            "top may be left out.",
        )
    read = _points(parts, "shadow", "foot:tip:top")
    return Shadow(read[0], read[1], read[2] if len(read) == 3 else None, ground)


def _edge(text: str, ground: Ground) -> Edge:
    *parts, bearing = text.split(":")
    try:
        runs_deg = float(bearing)
    except ValueError:
        parts = []
        runs_deg = 0.0
    if len(parts) != 3:
        raise InputError(
            f"The wall's shadow {text!r} is not foot:top:shadow:bearing.",
            "Write three places in pixels and the true bearing of the wall in degrees, "
            "as in 1200,3400:1210,3100:1500,3420:85.",
        )
    foot, top, shadow = _points(parts, "wall's shadow", "foot:top:shadow:bearing")
    return Edge(foot, top, shadow, runs_deg, ground=ground)


def _ground(slope: str | None) -> Ground:
    if slope is None:
        return LEVEL_GROUND
    found = _POINT.match(slope)
    if found is None or not 0.0 <= float(found[1]) < 45.0:
        raise InputError(
            f"The slope {slope!r} is not degrees,bearing.",
            "Write how steeply the ground rises and towards where, as in 5,120.",
        )
    return Ground(float(found[1]), float(found[2]))
