"""Hold what was read on a visit, one reading a row, and refuse what cannot be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from wherestood.errors import InputError

__all__ = ["COLUMNS", "KINDS", "Kind", "Reading", "Visit", "checked_reading"]

#: Columns of a filled sheet, and fields of a reading.
COLUMNS = ("what", "thing", "other", "value", "sd", "lon_deg", "lat_deg", "words")


@dataclass(frozen=True)
class Kind:
    """Say what a reading of a kind needs.

    Attributes
    ----------
    means : str
        In words, for a heading or a list.
    needs : tuple of str
        Columns that may not be empty.
    least, most : float
        Of its value, in its unit.
    sd, sd_share : float
        Standard error where none is told: so much, and this share of the value.
    """

    means: str
    needs: tuple[str, ...]
    least: float = -math.inf
    most: float = math.inf
    sd: float = 0.0
    sd_share: float = 0.0


_WORDS = ("words",)
#: Doubts where none is told are common practice: a phone 5 to 10 m, a compass 10
#: degrees, a rule at arm's length 0.1 degree, a tape 5 cm and half a percent.
KINDS: dict[str, Kind] = {
    "day": Kind("day of the visit, 2026-05-31", _WORDS),
    "who": Kind("who was there", _WORDS),
    "stood": Kind(
        "where the tripod stood, by phone or receiver", ("lon_deg", "lat_deg"), sd=8.0
    ),
    "matches": Kind(
        "the view matches the picture there, to within so many metres",
        ("value",), 0.01, 1000.0,
    ),
    "gap": Kind(
        "gap read there: far thing, near thing, degrees, far right of near positive",
        ("thing", "other", "value"), -90.0, 90.0, 0.1,
    ),
    "gap on plate": Kind(
        "the same gap as the picture has it", ("thing", "other", "value"),
        -90.0, 90.0, 0.05,
    ),
    "tape": Kind(
        "distance from the tripod to a thing, metres", ("thing", "value"),
        0.01, 10_000.0, 0.05, 0.005,
    ),
    "compass": Kind(
        "compass towards the middle of the picture, or a thing, degrees, magnetic",
        ("value",), 0.0, 360.0, 10.0,
    ),
    "height": Kind(
        "height of a thing, metres", ("thing", "value"), 0.01, 1000.0, 0.2, 0.02
    ),
    "thing": Kind(
        "where a thing stands, by phone or receiver", ("thing", "lon_deg", "lat_deg"),
        sd=8.0,
    ),
    "not here": Kind(
        "the camera cannot have stood here, within so many metres, because",
        ("lon_deg", "lat_deg", "value", "words"), 1.0, 10_000.0,
    ),
    "ground gone": Kind("the ground of the spot is gone: how", _WORDS),
    "trees block it": Kind("trees or buildings block the view: how", _WORDS),
    "lens": Kind("height of the lens above the ground, metres", ("value",), 0.1, 50.0),
    "photograph": Kind("number or file of a photograph made there", _WORDS),
    "changed": Kind("what changed since", _WORDS),
    "note": Kind("anything else", _WORDS),
    "private": Kind("landowner, consent, gates: never handed out", _WORDS),
}  # fmt: skip


@dataclass(frozen=True)
class Reading:
    """Hold one reading.

    Attributes
    ----------
    what : str
        One of `KINDS`.
    thing, other : str
        Names or keys of what it is of.
    value, sd : float or None
        In metres or degrees.
    lon_deg, lat_deg : float or None
        WGS 84 [deg].
    words : str
    where : str
        File and line it came from, for messages.
    """

    what: str
    thing: str = ""
    other: str = ""
    value: float | None = None
    sd: float | None = None
    lon_deg: float | None = None
    lat_deg: float | None = None
    words: str = ""
    where: str = ""


@dataclass(frozen=True)
class Visit:
    """Hold a visit.

    Attributes
    ----------
    day : date
    who : str
    readings : tuple of Reading
        Checked, in the order they were given.
    """

    day: date
    who: str
    readings: tuple[Reading, ...]

    @classmethod
    def of(cls, readings: Sequence[Reading], day: date | None, who: str) -> Visit:
        """Return a visit by its readings.

        Parameters
        ----------
        readings : sequence of Reading
            Those of the day and of who was there go before the arguments.
        day : date, optional
        who : str

        Raises
        ------
        InputError
            If nothing was read, or its day is not known.
        """
        rest = []
        for one in readings:
            if one.what == "day":
                day = _day(one)
            elif one.what == "who":
                who = one.words
            else:
                rest.append(one)
        if not rest:
            raise InputError(
                "Nothing was read on the visit.",
                "Give a filled sheet (CSV or GPX), or readings as options.",
            )
        if day is None:
            raise InputError(
                "The day of the visit is not known.",
                "Say it with --day 2026-05-31, or in a row that begins with day.",
            )
        return cls(day, who, tuple(rest))

    def of_kind(self, *kinds: str) -> list[Reading]:
        """Return the readings of some kinds."""
        return [one for one in self.readings if one.what in kinds]


def checked_reading(reading: Reading) -> Reading:
    """Return a reading with its doubt, or refuse it.

    Raises
    ------
    InputError
        If it is of no known kind, lacks something, or cannot be.
    """
    at = f"{reading.where}: " if reading.where else ""
    kind = KINDS.get(reading.what)
    if kind is None:
        raise InputError(
            f"{at}{reading.what!r} is nothing that a visit tells.",
            f"Write one of: {', '.join(KINDS)}.",
        )
    for name in kind.needs:
        if getattr(reading, name) in (None, ""):
            raise InputError(
                f"{at}The reading {reading.what!r} has no {name}.",
                f"It is: {kind.means}. It needs {', '.join(kind.needs)}.",
            )
    _require_place(reading, at)
    value = reading.value
    if value is not None and not kind.least <= value <= kind.most:
        raise InputError(
            f"{at}{value:g} cannot be: {kind.means}.",
            f"Give a value from {kind.least:g} to {kind.most:g}.",
        )
    if reading.sd is not None:
        if not 0.0 < reading.sd <= 1e5:
            raise InputError(
                f"{at}A doubt of {reading.sd:g} cannot be.",
                "Say how far off the reading may well be, above 0, or leave it empty.",
            )
        return reading
    sd = kind.sd + kind.sd_share * abs(value or 0.0)
    return replace(reading, sd=sd if sd > 0.0 else None)


def _require_place(reading: Reading, at: str) -> None:
    lon, lat = reading.lon_deg, reading.lat_deg
    if lon is None and lat is None:
        return
    if (
        lon is None
        or lat is None
        or not (-180.0 <= lon <= 360.0 and -90.0 <= lat <= 90.0)
    ):
        raise InputError(
            f"{at}{lon}, {lat} is no place on the earth.",
            "Give longitude, then latitude, in degrees.",
        )


def _day(reading: Reading) -> date:
    try:
        return date.fromisoformat(reading.words)
    except ValueError as error:
        at = f"{reading.where}: " if reading.where else ""
        raise InputError(
            f"{at}{reading.words!r} is no day.", "Write it as 2026-05-31."
        ) from error
