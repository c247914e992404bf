"""Date a plate of a daybook, by what it keeps and what is given beside."""

from __future__ import annotations

import calendar
import math
import re
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import select

from wherestood.camera.model import Camera
from wherestood.dating.advice import Offer, advise_date
from wherestood.dating.agreement import Contribution, contributions
from wherestood.dating.clock import local_mean_minutes
from wherestood.dating.items import Item
from wherestood.dating.months import span_of
from wherestood.dating.periods import known_periods, period_item, read_periods
from wherestood.dating.shadow import Directions, Shadow, sun_directions
from wherestood.dating.shadow_points import CameraDoubt, Ground
from wherestood.dating.signs import known_signs, read_signs, season_item
from wherestood.dating.sun import seconds_of_day, sun_at
from wherestood.dating.sun_check import BearingBySun, bearing_by_sun
from wherestood.dating.sun_fit import Seen, SunFit, Where, fit_sun
from wherestood.dating.weigh import FIRST_MONTH, LAST_MONTH, Weighed, weigh
from wherestood.daybook.book import Daybook
from wherestood.daybook.date_items import gather_dates
from wherestood.daybook.keys import find
from wherestood.daybook.main_scan import main_scan
from wherestood.daybook.tables import Fix, Plate
from wherestood.errors import InputError
from wherestood.evidence.edtf import Day, read_edtf

__all__ = ["Dated", "Given", "SunTold", "date_of_plate"]

#: Doubt of an hour as written, each way [min]: common practice.
HOUR_SD_MIN = 10.0
#: Standard errors where a fix does not tell them: bearing, elevation, roll [deg], lens.
UNTOLD = (2.0, 1.0, 1.5, 0.1)
_POINT = re.compile(r"^\s*(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)\s*$")


@dataclass(frozen=True)
class Given:
    """Be what is given beside what the daybook keeps.

    Attributes
    ----------
    periods, signs : tuple of str
        Names of processes and mounts, and of signs of the season.
    own_periods, own_signs : (str, str) or None
        A file of the person's own: its text and name.
    between : str or None
        Months considered, an EDTF span.
    shadows : tuple of str
        ``foot:tip:top``, each ``x,y`` [px].
    slope : str or None
        ``degrees,bearing`` in which the ground under them rises.
    day, hour : str or None
        The day, EDTF, and ``h:mm``, where they are known.
    clock : str
        By which clock: ``local mean``, ``by the sun``, ``zone``.
    zone_hours : float or None
        The zone's hours ahead of universal time.
    """

    periods: tuple[str, ...] = ()
    signs: tuple[str, ...] = ()
    own_periods: tuple[str, str] | None = None
    own_signs: tuple[str, str] | None = None
    between: str | None = None
    shadows: tuple[str, ...] = ()
    slope: str | None = None
    day: str | None = None
    hour: str | None = None
    clock: str = "local mean"
    zone_hours: float | None = None


@dataclass(frozen=True)
class SunTold:
    """Hold what the plate's shadows tell.

    Attributes
    ----------
    directions : Directions
    fit : SunFit
    where : Where
    bearing : BearingBySun or None
        The camera's bearing checked, where day and hour are known.
    """

    directions: Directions
    fit: SunFit
    where: Where
    bearing: BearingBySun | None


@dataclass(frozen=True)
class Dated:
    """Hold when a plate was exposed, and by what."""

    whole: Weighed
    contributions: tuple[Contribution, ...]
    offers: tuple[Offer, ...]
    left_out: tuple[str, ...]
    sun: SunTold | None


def date_of_plate(book: Daybook, key: str, given: Given) -> Dated:
    """Date a plate.

    Parameters
    ----------
    book : Daybook
    key : str
        The plate's.
    given : Given
        What counts beside.

    Returns
    -------
    Dated

    Raises
    ------
    InputError
        If what is given cannot be used; shadows also want a fix.
    """
    with book.reading() as session:
        plate = find(session, Plate, key)
        gathered = gather_dates(session, plate)
        fix = session.scalars(
            select(Fix)
            .where(Fix.plate_id == plate.id, Fix.removed.is_(False))
            .order_by(Fix.made.desc())
            .limit(1)
        ).first()
        main = main_scan(session, plate)
        size_px = None if main is None else (main.width_px, main.height_px)
        answer = None if fix is None else fix.answer
    items = [*gathered.items, *_given_items(given, gathered.lat_deg)]
    first, last = _range(given.between)
    whole = weigh(items, first, last)
    sun = None
    if given.shadows:
        sun = _sun(given, answer, size_px, whole)
    elif given.hour is not None or given.day is not None:
        raise InputError(
            "A day or an hour is given, but no shadow that it could be held against.",
            "Mark a shadow: --shadow FOOT:TIP:TOP.",
        )
    return Dated(
        whole,
        contributions(items, whole),
        advise_date(items, whole, gathered.standing),
        gathered.left_out,
        sun,
    )


def _given_items(given: Given, lat_deg: float | None) -> list[Item]:
    periods, signs = dict(known_periods()), dict(known_signs())
    if given.own_periods is not None:
        periods |= read_periods(*given.own_periods)
    if given.own_signs is not None:
        signs |= read_signs(*given.own_signs)
    items: list[Item] = [period_item(name, name, periods) for name in given.periods]
    if given.signs and lat_deg is None:
        raise InputError(
            "A sign of the season needs the latitude, and the plate has no fix yet.",
            "Make a fix first: wherestood fix PLATE.",
        )
    for name in given.signs:
        items.append(season_item(f"sign {name}", name, lat_deg or 0.0, signs))
    return items


def _range(between: str | None) -> tuple[int, int]:
    if between is None:
        return FIRST_MONTH, LAST_MONTH
    span = span_of(between, "the months considered")
    first = FIRST_MONTH if span.rise_from is None else span.rise_from
    return first, LAST_MONTH if span.fall_to is None else span.fall_to


def _sun(
    given: Given,
    answer: dict[str, Any] | None,
    size_px: tuple[int | None, int | None] | None,
    whole: Weighed,
) -> SunTold:
    if answer is None or answer.get("camera") is None:
        raise InputError(
            "The sun's direction needs the camera's, and the plate has no fix yet.",
            "Make a fix first: wherestood fix PLATE.",
        )
    if size_px is None or size_px[0] is None or size_px[1] is None:
        raise InputError(
            "The size of the plate's main scan is not known.", "Take the scan in anew."
        )
    if not whole.possible:
        raise InputError(
            "The dates contradict one another, so the sun cannot be reckoned.",
            "Settle the dates first.",
        )
    camera, doubt = _camera(answer["camera"], (size_px[0], size_px[1]))
    station = answer["station"]
    where = Where(station["lon"], station["lat"], station["height_m"] or 0.0)
    shadows = tuple(_shadow(text, given.slope) for text in given.shadows)
    told = sun_directions(camera, doubt, shadows)
    year, days = _days(whole)
    day = None if given.day is None else _day(given.day)
    if day is not None:
        year, days = day[0], np.zeros(366)
        days[date(*day).timetuple().tm_yday - 1] = 1.0
    minutes, known = None, None
    if given.hour is not None:
        noon = seconds_of_day(year, 1, 1) + 86_400.0 * (float(np.argmax(days)) + 0.5)
        equation = sun_at(np.array([noon]), where.lon_deg, where.lat_deg)
        known = local_mean_minutes(
            _minutes(given.hour),
            _clock(given),
            where.lon_deg,
            float(equation.equation_of_time_s[0]),
            given.zone_hours,
        )
        off = (np.arange(1440) - known) / HOUR_SD_MIN
        minutes = np.where(np.abs(off) < 4.0, np.exp(-0.5 * off**2), 0.0)
    fit = fit_sun(Seen(told), where, year, days, minutes)
    bearing = None
    if known is not None and day is not None:
        bearing = bearing_by_sun(camera, doubt, shadows, where, day, known, HOUR_SD_MIN)
    return SunTold(told, fit, where, bearing)


def _camera(
    told: dict[str, Any], size_px: tuple[int, int]
) -> tuple[Camera, CameraDoubt]:
    camera = Camera(
        math.radians(told["bearing_deg"]),
        math.radians(told["tilt_deg"]),
        math.radians(told["roll_deg"]),
        told["principal_distance_px"],
        told["rise_px"],
        told["cross_px"],
        told["k1"],
        size_px[0],
        size_px[1],
        bool(told["reversed"]),
    )
    sd = told.get("sd") or {}

    def one(name: str, untold: float) -> float:
        value = sd.get(name)
        return untold if value is None else float(value)

    lens = one("principal_distance_px", UNTOLD[3] * camera.principal_distance_px)
    doubt = CameraDoubt(
        math.radians(one("sight_bearing_deg", UNTOLD[0])),
        math.radians(one("sight_elevation_deg", UNTOLD[1])),
        math.radians(one("roll_deg", UNTOLD[2])),
        lens / camera.principal_distance_px,
    )
    return camera, doubt


def _shadow(text: str, slope: str | None) -> Shadow:
    points = [_POINT.match(part) for part in text.split(":")]
    if len(points) not in (2, 3) or not all(points):
        raise InputError(
            f"The shadow {text!r} is not foot:tip:top.",
            "Write three places in pixels, as in 1200,3400:1500,3420:1210,3100; the "
            "top may be left out.",
        )
    read = [(float(found[1]), float(found[2])) for found in points if found]
    top = read[2] if len(read) == 3 else None
    if slope is None:
        return Shadow(read[0], read[1], top)
    found = _POINT.match(slope)
    if found is None or not 0.0 <= float(found[1]) < 45.0:
        raise InputError(
            f"The slope {slope!r} is not degrees,bearing.",
            "Write how steeply the ground rises and towards where, as in 5,120.",
        )
    ground = Ground(float(found[1]), float(found[2]))
    return Shadow(read[0], read[1], top, ground)


def _minutes(text: str) -> float:
    found = re.fullmatch(r"([01]?\d|2[0-3])[:.]([0-5]\d)", text.strip())
    if found is None:
        raise InputError(
            f"The hour {text!r} is no hour of a day.", "Write it as 10:30."
        )
    return 60.0 * int(found[1]) + int(found[2])


def _clock(given: Given) -> str:
    if given.clock not in ("local mean", "by the sun", "zone"):
        raise InputError(
            f"No clock is called {given.clock!r}.",
            "Choose one of: local mean, by the sun, zone.",
        )
    if given.clock == "zone" and given.zone_hours is None:
        raise InputError(
            "The hour is of a zone, but not of which.",
            "Give the zone's hours ahead of universal time: --zone 1.",
        )
    return given.clock


def _days(whole: Weighed) -> tuple[int, NDArray[np.float64]]:
    """Return the likeliest year, and the weight of every day of a year.

    Months of all years are laid over one another.
    """
    years = whole.months // 12
    by_year = np.bincount(years - years[0], weights=whole.probability)
    year = int(years[0] + int(np.argmax(by_year)))
    days = np.zeros(366)
    begin = 0
    for month in range(12):
        length = calendar.monthrange(year, month + 1)[1]
        share = float(whole.probability[whole.months % 12 == month].sum())
        days[begin : begin + length] = share / length
        begin += length
    return year, days


def _day(text: str) -> Day:
    """Read the one day that a person names."""
    read = read_edtf(text)
    day = None if read is None or read.is_span or read.begin is None else read.begin
    if day is None or day.first != day.last:
        raise InputError(
            f"The day {text!r} is no single day.", "Write it as 1871-07-19."
        )
    return day.first
