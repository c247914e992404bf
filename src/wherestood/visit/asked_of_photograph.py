"""Ask what a photograph does not say, or says in a way that cannot be right."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from wherestood.errors import InputError
from wherestood.plate.photograph import Photograph

__all__ = ["NOT_KNOWN", "Asked", "ask_of", "settled_photograph"]

#: What a person may say is not known of a photograph.
NOT_KNOWN = ("position", "heading", "lens", "time")
#: Clocks of cameras that lost their battery begin at such years: common practice.
_FIRST_YEAR = 1990
_BEGINS = ((1, 1), (12, 31))
_SLACK = timedelta(days=1)
#: Clocks on land are set from 12 hours behind universal time to 14 ahead of it; a
#: receiver may keep its last place for some minutes.
_ZONES = timedelta(hours=14, minutes=30)


@dataclass(frozen=True)
class Asked:
    """Hold a question about a photograph.

    Attributes
    ----------
    what : str
        One of `NOT_KNOWN`, or ``mirrored``.
    sentence, remedy : str
        What is missing or odd, and how to answer.
    """

    what: str
    sentence: str
    remedy: str


def ask_of(
    photograph: Photograph,
    now: datetime,
    *,
    not_known: Collection[str] = (),
    mirrored: bool | None = None,
) -> list[Asked]:
    """Return what must be asked before a photograph is used; nothing is assumed.

    Parameters
    ----------
    photograph : Photograph
        With what a person said put in.
    now : datetime
        No photograph was taken later.
    not_known : collection of str
        Of `NOT_KNOWN`: what a person says is not known.
    mirrored : bool, optional
        What a person says of that.
    """
    asked = []

    def ask(what: str, sentence: str, remedy: str) -> None:
        if what not in not_known:
            asked.append(Asked(what, sentence, remedy))

    if photograph.lon_deg is None:
        ask("position", "The photograph does not say where it was made.",
            "Give the place, or say that it is not known.")  # fmt: skip
    if photograph.heading_deg is None:
        ask("heading", "The photograph does not say which way it looks.",
            "Give the bearing, or say that it is not known.")  # fmt: skip
    if photograph.principal_distance_px is None:
        ask("lens", "The photograph does not say what lens it was made with.",
            "Give the focal length for 35 mm film, or say that it is not known.",
            )  # fmt: skip
    taken = photograph.taken
    if taken is None:
        ask("time", "The photograph does not say when it was made.",
            "Give day and hour, or say that they are not known.")  # fmt: skip
    elif taken > now + _SLACK:
        ask("time", f"The camera's clock says {taken:%Y-%m-%d %H:%M}, which is yet to "
            "come.", "Give the true day and hour, or say that they are not known.",
            )  # fmt: skip
    elif photograph.received is not None and abs(taken - photograph.received) > _ZONES:
        ask("time", f"The camera's clock says {taken:%Y-%m-%d %H:%M}, its receiver "
            f"{photograph.received:%Y-%m-%d %H:%M} universal time: no zone lies so far "
            "off.", "Give the true day and hour, or say that they are not known.",
            )  # fmt: skip
    elif taken.year < _FIRST_YEAR or (
        # A clock that agrees with the satellites was set, on a new year's day too.
        photograph.received is None and (taken.month, taken.day) in _BEGINS
    ):
        ask("time", f"The camera's clock says {taken:%Y-%m-%d %H:%M}, as a clock does "
            "that was never set.",
            "Give the true day and hour, or say that they are not known.")  # fmt: skip
    if photograph.tag_mirrored and mirrored is None:
        asked.append(
            Asked(
                "mirrored",
                "The photograph's tags speak of a mirror image.",
                "Say whether it is left for right.",
            )
        )
    return asked


def settled_photograph(
    photograph: Photograph,
    now: datetime,
    *,
    place: tuple[float, float] | None = None,
    heading_deg: float | None = None,
    focal_35_mm: float | None = None,
    taken: datetime | None = None,
    not_known: Collection[str] = (),
    mirrored: bool | None = None,
) -> Photograph:
    """Return a photograph with what a person said put in.

    Parameters
    ----------
    photograph : Photograph
    now : datetime
    place : (float, float), optional
        Longitude and latitude [deg].
    heading_deg : float, optional
        True [deg].
    focal_35_mm : float, optional
        Focal length for 35 mm film [mm].
    taken : datetime, optional
    not_known : collection of str
        Of `NOT_KNOWN`; what the file says of these is not used.
    mirrored : bool, optional

    Raises
    ------
    InputError
        If anything is left to ask: all questions at once.
    """
    for what in not_known:
        if what not in NOT_KNOWN:
            raise InputError(
                f"{what!r} is nothing that may be not known.",
                f"Choose from {', '.join(NOT_KNOWN)}.",
            )
    said = photograph
    if place is not None:
        said = replace(said, lon_deg=place[0], lat_deg=place[1], position_sd_m=None)
    if heading_deg is not None:
        said = replace(said, heading_deg=heading_deg % 360.0, heading_magnetic=False)
    if focal_35_mm is not None:
        diagonal = (said.width_px**2 + said.height_px**2) ** 0.5
        said = replace(said, principal_distance_px=focal_35_mm / 43.2666 * diagonal)
    if taken is not None:
        said = replace(said, taken=taken, received=None)
    left = ask_of(said, now, not_known=not_known, mirrored=mirrored)
    if left:
        raise InputError(
            " ".join(one.sentence for one in left),
            " ".join(dict.fromkeys(one.remedy for one in left)),
        )
    none: dict[str, dict[str, None]] = {
        "position": {"lon_deg": None, "lat_deg": None},
        "heading": {"heading_deg": None},
        "lens": {"principal_distance_px": None},
        "time": {"taken": None},
    }
    for what in not_known:
        said = replace(said, **none[what])  # type: ignore[arg-type]
    return said
