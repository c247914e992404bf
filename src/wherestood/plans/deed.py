"""Read the bearings and distances of a deed as they are written."""

from __future__ import annotations

import re
from dataclasses import dataclass

from wherestood.errors import PlanError
from wherestood.plans.units import read_length_m

__all__ = ["Call", "read_bearing_deg", "read_call", "read_deed"]

_ANGLE = (
    r"(?P<deg>\d+(?:[.,]\d+)?)(?:\s+(?P<top>\d+)\s*/\s*(?P<below>\d+))?"
    r"\s*(?:°|º|deg(?:rees?)?\.?|d\b)?"
    r"(?:\s*(?P<min>\d+(?:[.,]\d+)?)\s*(?:['′’]|min(?:utes?)?\.?|m\b)?"
    r"(?:\s*(?P<sec>\d+(?:[.,]\d+)?)\s*(?:[\"″”]|''|sec(?:onds?)?\.?)?)?)?"
)
_WHOLE_CIRCLE = re.compile(rf"^\s*{_ANGLE}\s*$", re.IGNORECASE)
_QUADRANT = re.compile(
    rf"^\s*(?P<from>n(?:orth)?|s(?:outh)?)\.?\s*{_ANGLE}\s*"
    r"(?P<to>e(?:ast)?|w(?:est)?)\.?\s*$",
    re.IGNORECASE,
)
_DUE = {"n": 0.0, "north": 0.0, "e": 90.0, "east": 90.0, "s": 180.0, "south": 180.0,
        "w": 270.0, "west": 270.0}  # fmt: skip
_CALL = re.compile(
    r"^(?P<bearing>.+?)(?:\s*[,;:]\s*|\s+(?:for|distance|a distance of)\s+)"
    r"(?P<length>.+)$",
    re.IGNORECASE,
)
_BEGINS = re.compile(r"^\s*(?:and\s+)?(?:thence\s+)?(?:bearing\s+)?", re.IGNORECASE)
#: What parts calls: lines, semicolons, "thence".
_PARTS = re.compile(r"[\n;]+|\b(?=thence\b)", re.IGNORECASE)


@dataclass(frozen=True)
class Call:
    """Be one bearing and distance.

    Attributes
    ----------
    words : str
        As it is written.
    bearing_deg : float
        From the deed's own north, clockwise, 0 to 360 [deg].
    length_m : float
        Its length [m].
    """

    words: str
    bearing_deg: float
    length_m: float


def read_bearing_deg(words: str) -> float:
    """Read a bearing as it is written.

    Parameters
    ----------
    words : str
        Whole circle (``214 30'``, ``214° 30' 15"``, ``214.5``), by quadrants
        (``N 34 1/2 E``, ``S. 12° 15' W.``) or ``due north``.

    Returns
    -------
    float
        Clockwise from the north meant, 0 to 360 [deg].

    Raises
    ------
    PlanError
        If it cannot be read, or is no bearing.

    Examples
    --------
    >>> read_bearing_deg("214 30'")
    214.5
    >>> read_bearing_deg("S 34 1/2 W")
    214.5
    """
    plain = words.strip().rstrip(".,")
    due = re.sub(r"^due\s+", "", plain.casefold()).rstrip(".")
    if due in _DUE:
        return _DUE[due]
    if whole := _WHOLE_CIRCLE.match(plain):
        angle = _angle(whole, words, 360.0)
        return angle % 360.0
    if quadrant := _QUADRANT.match(plain):
        angle = _angle(quadrant, words, 90.0)
        south = quadrant["from"][0].casefold() == "s"
        west = quadrant["to"][0].casefold() == "w"
        turned = 180.0 - angle if south else angle
        return (360.0 - turned if west else turned) % 360.0
    raise PlanError(
        f"The bearing {words!r} cannot be read.",
        "Write it like 214 30', or like N 34 30 E.",
    )


def _angle(found: re.Match[str], words: str, most: float) -> float:
    deg, minutes, seconds = (
        float((found[part] or "0").replace(",", ".")) for part in ("deg", "min", "sec")
    )
    if found["below"]:
        if int(found["below"]) == 0:
            raise PlanError(
                f"The bearing {words!r} divides by nothing.", "Write it anew."
            )
        deg += int(found["top"]) / int(found["below"])
    angle = deg + minutes / 60.0 + seconds / 3600.0
    if minutes >= 60.0 or seconds >= 60.0 or angle > most:
        raise PlanError(
            f"The bearing {words!r} is none: minutes and seconds stay under 60, and it "
            f"reaches to {most:.0f} degrees.",
            "Look at it once more.",
        )
    return angle


def read_call(words: str, *, of: str = "") -> Call:
    """Read one bearing and distance: ``214 30', 12 chains 50 links``.

    Parameters
    ----------
    words : str
        Bearing first, then the length; a comma or ``for`` between them.
    of : str
        As of `wherestood.plans.units.read_length_m`.

    Raises
    ------
    PlanError
        If it cannot be read.
    """
    plain = _BEGINS.sub("", words.strip()).rstrip(".,; ")
    parts = _CALL.match(plain)
    if parts is None:
        raise PlanError(
            f"The call {words.strip()!r} has no bearing and distance.",
            "Write it like 214 30', 12 chains 50 links.",
        )
    return Call(
        words.strip(),
        read_bearing_deg(parts["bearing"]),
        read_length_m(parts["length"], of=of),
    )


def read_deed(text: str, *, of: str = "") -> tuple[Call, ...]:
    """Read the calls of a deed, one a line or after ``thence`` or a semicolon.

    Raises
    ------
    PlanError
        With the number of the call that cannot be read.
    """
    calls = []
    for part in _PARTS.split(text):
        if not part.strip(" .,;\t\r"):
            continue
        try:
            calls.append(read_call(part, of=of))
        except PlanError as error:
            raise PlanError(
                f"Call {len(calls) + 1}: {error.problem}", error.remedy
            ) from error
    if not calls:
        raise PlanError(
            "The deed has no calls.", "Write a bearing and distance a line."
        )
    return tuple(calls)
