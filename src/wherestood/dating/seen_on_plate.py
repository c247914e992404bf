"""Read what a plate shows of its hour, season and making, as it is kept.

Each kind is a record of plain values: points on the scan, in an order of its own, and
what else is known of it. Where a thing was marked on the plate is kept with it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from wherestood.dating.exposure import SPEEDS_M_A_SECOND
from wherestood.dating.negative_kind import CLUES
from wherestood.dating.reversal import READINGS
from wherestood.dating.shadow import Shadow
from wherestood.dating.shadow_edge import Edge
from wherestood.dating.shadow_points import (
    LEAN_SD_DEG,
    MARK_SD_PX,
    SLOPE_SD_DEG,
    Ground,
    Point,
)
from wherestood.dating.sun_fit import Face
from wherestood.errors import EvidenceError
from wherestood.evidence.edtf import Day, has_number, read_edtf

__all__ = [
    "CLOCKS",
    "HOUR_SD_MIN",
    "OF_TIME",
    "WATERS",
    "Blur",
    "HourKnown",
    "Named",
    "OlderPlate",
    "SeenThing",
    "minutes_of_hour",
    "read_seen",
    "single_day",
]  # fmt: skip

#: What water may show; kept as it was seen, for no tide is foretold here.
WATERS = ("tide in", "tide out", "tide mark", "flood", "flood mark", "ice")
#: Doubt of an hour as written, each way [min]: common practice.
HOUR_SD_MIN = 10.0
CLOCKS = ("local mean", "by the sun", "zone")
#: Steepest ground that a shadow is read on [deg].
STEEPEST_DEG = 45.0


@dataclass(frozen=True)
class HourKnown:
    """Be an hour that is known: of a clock in the picture, or written down.

    Attributes
    ----------
    minutes, sd_min : float
        After midnight by that clock, and its standard error [min].
    clock : str
        One of `CLOCKS`.
    zone_hours : float or None
        The zone's hours ahead of universal time.
    day : (int, int, int) or None
        The day, where that is known too.
    """

    minutes: float
    sd_min: float
    clock: str
    zone_hours: float | None
    day: Day | None


@dataclass(frozen=True)
class Blur:
    """Be the blur of something that moved while the plate was exposed.

    Attributes
    ----------
    length_px, sd_px : float
        Along its way, less its own length, and the standard error [px].
    moving : str
        What moved.
    distance_m, distance_sd_m : float
        How far it was [m].
    across_deg : float
        Angle between its way and the sight [deg].
    """

    length_px: float
    sd_px: float
    moving: str
    distance_m: float
    distance_sd_m: float
    across_deg: float


@dataclass(frozen=True)
class Named:
    """Be something that has a name in a table: a sign, a clue, a reading."""

    name: str


@dataclass(frozen=True)
class OlderPlate:
    """Be another plate that is no younger: this one shows what that one lacks.

    Attributes
    ----------
    plate_id : str
        The other plate's, which a new key leaves as it is.
    """

    plate_id: str


SeenThing = Shadow | Edge | Face | HourKnown | Blur | Named | OlderPlate


class _Record:
    """Take values out of a record, refusing what cannot be."""

    def __init__(self, content: Mapping[str, Any], name: str) -> None:
        self.left = dict(content)
        self.name = name

    def refuse(self, problem: str, remedy: str, field: str) -> EvidenceError:
        return EvidenceError(f"{self.name}: {problem}", remedy, field=field)

    def points(self, least: int, most: int) -> list[Point]:
        told = self.left.pop("points_px", [])
        fits = isinstance(told, list) and least <= len(told) <= most
        fits = fits and all(
            isinstance(p, list | tuple) and len(p) == 2 and all(map(_is_number, p))
            for p in told
        )
        if not fits:
            count = f"{least}" if least == most else f"{least} to {most}"
            raise self.refuse(
                f"points_px must hold {count} points.",
                "Write each as its x and y in pixels of the scan.",
                "points_px",
            )
        return [(float(x), float(y)) for x, y in told]

    def number(
        self, key: str, usual: float | None, low: float, high: float, unit: str
    ) -> float:
        value = self.left.pop(key, usual)
        if not _is_number(value) or not low <= value <= high:
            raise self.refuse(
                f"{key} is {value!r}; it must be {low:g} to {high:g} {unit}.",
                "Correct it.",
                key,
            )
        return float(value)

    def word(self, key: str, known: Mapping[str, Any] | tuple[str, ...] | None) -> str:
        value = self.left.pop(key, None)
        if not isinstance(value, str) or not value.strip():
            raise self.refuse(f"{key} is missing.", "Say which it is.", key)
        if known is not None and value not in known:
            raise self.refuse(
                f"nothing is known of the {key} {value!r}.",
                f"Choose one of: {', '.join(known)}.",
                key,
            )
        return value

    def ground(self) -> Ground:
        return Ground(
            self.number("rise_deg", 0.0, 0.0, STEEPEST_DEG, "deg"),
            self.number("rise_towards_deg", 0.0, -360.0, 360.0, "deg"),
            self.number("slope_sd_deg", SLOPE_SD_DEG, 0.0, STEEPEST_DEG, "deg"),
        )

    def sd_px(self, usual: float = MARK_SD_PX) -> float:
        return self.number("sd_px", usual, 0.01, 1000.0, "px")


def _shadow(record: _Record) -> Shadow:
    foot, tip, *top = record.points(2, 3)
    return Shadow(
        foot, tip, top[0] if top else None, record.ground(), record.sd_px(),
        record.number("lean_sd_deg", LEAN_SD_DEG, 0.0, 30.0, "deg"),
    )  # fmt: skip


def _edge(record: _Record) -> Edge:
    foot, top, shadow = record.points(3, 3)
    return Edge(
        foot, top, shadow,
        record.number("bearing_deg", None, -360.0, 360.0, "deg"),
        record.number("bearing_sd_deg", 1.0, 0.0, 45.0, "deg"),
        record.ground(), record.sd_px(),
    )  # fmt: skip


def _face(record: _Record) -> Face:
    record.points(0, 1)
    lit = record.left.pop("lit", None)
    if not isinstance(lit, bool):
        raise record.refuse("lit must be true or false.", "Say which.", "lit")
    return Face(
        record.number("looks_deg", None, -360.0, 360.0, "deg"), lit,
        record.number("sd_deg", 2.0, 0.01, 90.0, "deg"),
    )  # fmt: skip


def _hour(record: _Record) -> HourKnown:
    record.points(0, 1)
    hour = record.word("hour", None)
    clock = record.left.pop("clock", "local mean")
    zone = record.left.pop("zone_hours", None)
    day = record.left.pop("day", None)
    if clock not in CLOCKS:
        raise record.refuse(
            f"no clock is called {clock!r}.", f"Choose one of: {', '.join(CLOCKS)}.",
            "clock",
        )  # fmt: skip
    if zone is not None and not (_is_number(zone) and -14.0 <= zone <= 14.0):
        raise record.refuse(
            f"zone_hours is {zone!r}; zones are -14 to 14 hours ahead.", "Correct it.",
            "zone_hours",
        )  # fmt: skip
    if clock == "zone" and zone is None:
        raise record.refuse(
            "the hour is of a zone, but not of which.",
            "Give the zone's hours ahead of universal time.",
            "zone_hours",
        )
    return HourKnown(
        minutes_of_hour(hour),
        record.number("sd_min", HOUR_SD_MIN, 0.5, 360.0, "min"),
        clock, zone, None if day is None else single_day(str(day)),
    )  # fmt: skip


def _blur(record: _Record) -> Blur:
    begin, end = record.points(2, 2)
    each = record.sd_px(2.0)
    return Blur(
        math.dist(begin, end), each * math.sqrt(2.0),
        record.word("moving", SPEEDS_M_A_SECOND),
        record.number("distance_m", None, 0.5, 100_000.0, "m"),
        record.number("distance_sd_m", 0.0, 0.0, 100_000.0, "m"),
        record.number("across_deg", 90.0, 0.0, 180.0, "deg"),
    )  # fmt: skip


def _named(key: str, known: Mapping[str, Any] | None) -> Callable[[_Record], SeenThing]:
    def read(record: _Record) -> Named:
        record.points(0, 2)
        return Named(record.word(key, known))

    return read


def _older(record: _Record) -> OlderPlate:
    record.points(0, 2)
    return OlderPlate(record.word("plate_id", None))


#: Kinds of what a plate shows of its hour, season and making, in the order in which
#: they are told. Signs and periods are looked up where a person's own may count.
OF_TIME: dict[str, Callable[[_Record], SeenThing]] = {
    "shadow": _shadow,
    "shadow_edge": _edge,
    "lit_face": _face,
    "hour": _hour,
    "season": _named("sign", None),
    "period": _named("name", None),
    "water_seen": _named("state", dict.fromkeys(WATERS)),
    "older_plate": _older,
    "blur": _blur,
    "making": _named("clue", CLUES),
    "reading": _named("reads", READINGS),
}


def read_seen(kind: str, content: Mapping[str, Any] | None, name: str) -> SeenThing:
    """Read what a plate shows out of its record.

    Parameters
    ----------
    kind : str
        One of `OF_TIME`.
    content : mapping or None
        Values by key.
    name : str
        What messages call it.

    Returns
    -------
    Shadow, Edge, Face, HourKnown, Blur, Named or OlderPlate

    Raises
    ------
    EvidenceError
        If a value is missing, cannot be, or has no meaning there.

    Examples
    --------
    >>> read_seen("season", {"sign": "leaf"}, "sign-1")
    Named(name='leaf')
    """
    record = _Record(content or {}, name)
    record.left.pop("what", None)  # what it is of, in words
    found = OF_TIME[kind](record)
    record.left.pop("sd_px", None)  # of a place that only says where it is
    if record.left:
        raise record.refuse(
            f"{', '.join(sorted(record.left))} has no meaning in a {kind}.",
            "Leave it out, or put it into the note.",
            min(record.left),
        )
    return found


def minutes_of_hour(text: str) -> float:
    """Return minutes after midnight of an hour as written.

    Raises
    ------
    EvidenceError
        If it is no hour of a day.
    """
    found = re.fullmatch(r"([01]?\d|2[0-3])[:.]([0-5]\d)", text.strip())
    if found is None:
        raise EvidenceError(
            f"The hour {text!r} is no hour of a day.", "Write it as 10:30."
        )
    return 60.0 * int(found[1]) + int(found[2])


def single_day(text: str) -> Day:
    """Return the one day that a person names.

    Raises
    ------
    EvidenceError
        If it is no date, or not of one day.
    """
    read = read_edtf(text)
    day = None if read is None or read.is_span or read.begin is None else read.begin
    if day is None or day.first != day.last or not has_number(day.first):
        raise EvidenceError(
            f"The day {text!r} is no single day.", "Write it as 1871-07-19."
        )
    return day.first


def _is_number(value: Any) -> bool:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return number and math.isfinite(value)
