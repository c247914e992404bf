"""Hold what is handed out of plates: plain, frozen, and no closer than may be told.

Whoever fills this in decides what goes out. The writers beside it write all of it and
know nothing else, so that what may not be told must not come this far.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from shapely.geometry.base import BaseGeometry

from wherestood.camera.model import Camera
from wherestood.record.export.handed_things import (
    Drawn,
    Feature,
    Marked,
    Picture,
    ThenAndNow,
)
from wherestood.record.export.shaded_map import ShadedMap

__all__ = [
    "UNKNOWN",
    "Answer",
    "Decided",
    "Feature",
    "HandedOut",
    "HandedPlate",
    "Held",
    "Kind",
    "Marked",
    "Picture",
    "Place",
    "Region",
]

#: What a right that nobody recorded reads.
UNKNOWN = "UNKNOWN"

Kind = Literal["full", "public"]


@dataclass(frozen=True)
class Held:
    """Hold how a camera was held, as an answer tells it.

    Attributes
    ----------
    camera : Camera
        True bearing, tilt, roll; lens, movements and frame in pixels of the scan.
    sight_bearing_deg, sight_elevation_deg : float
        Where the frame's centre looks [deg].
    principal_distance_mm : float or None
        Lens to plate, where the plate's size is known [mm].
    sd : mapping of str to float
        Standard errors, each by the name of what it is of, with its unit.
    """

    camera: Camera
    sight_bearing_deg: float
    sight_elevation_deg: float
    principal_distance_mm: float | None = None
    sd: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Place:
    """Hold where a camera may have stood.

    Attributes
    ----------
    lon_deg, lat_deg : float
        WGS 84: the station, or the middle of a square that holds it [deg].
    rank : int
        1 for the likeliest.
    probability : float or None
        How probable it is, no unit; None where that is not told.
    height_m : float or None
        In the elevation model's own vertical datum [m].
    sd_east_m, sd_north_m, sd_height_m : float or None
        Standard errors [m].
    side_m : float or None
        Side of the square; None where the place is told as it is known [m].
    held : Held or None
        How the camera looked; None where that is not told.
    """

    lon_deg: float
    lat_deg: float
    rank: int = 1
    probability: float | None = None
    height_m: float | None = None
    sd_east_m: float | None = None
    sd_north_m: float | None = None
    sd_height_m: float | None = None
    side_m: float | None = None
    held: Held | None = None

    @property
    def is_exact(self) -> bool:
        """Tell whether the place is told as it is known."""
        return self.side_m is None

    @property
    def doubt_m(self) -> float | None:
        """Return how far it may be off: half the square's diagonal, or two thirds.

        About two times in three the truth lies within the standard errors' root sum
        of squares of a normal spread; of a square it always lies within its corners.
        """
        if self.side_m is not None:
            return math.sqrt(0.5) * self.side_m
        if self.sd_east_m is None or self.sd_north_m is None:
            return None
        return math.hypot(self.sd_east_m, self.sd_north_m)


@dataclass(frozen=True)
class Region:
    """Hold the ground that holds the camera with a probability.

    Attributes
    ----------
    probability : float
        No unit.
    shape : shapely geometry
        Longitude and latitude, WGS 84 [deg].
    """

    probability: float
    shape: BaseGeometry


@dataclass(frozen=True)
class Decided:
    """Hold what a person concluded, when, in their words."""

    conclusion: str
    decided_by: str = ""
    decided: str = ""
    words: str = ""
    conditions: str = ""

    @property
    def is_accepted(self) -> bool:
        """Tell whether the answer was accepted, with conditions or without."""
        return self.conclusion.startswith("accepted")


@dataclass(frozen=True)
class Answer:
    """Hold an answer, as far as it is told.

    Attributes
    ----------
    verdict : str
        ``located``, ``several places`` or ``not determined``; empty if not told.
    near_enough_m : float or None
        How close was asked [m].
    elsewhere : float or None
        How probable none of the places is, no unit.
    places : tuple of Place
        By rank; none where no place may be told.
    regions : tuple of Region
    vertical_datum : str
        Of heights; ``unknown`` where the elevation model does not say.
    decided : Decided or None
        What a person concluded of it; None where nobody did.
    key, made, version : str
        Of the fix.
    """

    verdict: str = ""
    near_enough_m: float | None = None
    elsewhere: float | None = None
    places: tuple[Place, ...] = ()
    regions: tuple[Region, ...] = ()
    vertical_datum: str = "unknown"
    decided: Decided | None = None
    key: str = ""
    made: str = ""
    version: str = ""

    @property
    def is_one_place(self) -> bool:
        """Tell whether it may stand as *the* place: located, or accepted by a person.

        An answer that a person rejected may not.
        """
        if self.decided is not None:
            return self.decided.is_accepted
        return self.verdict == "located"


@dataclass(frozen=True)
class HandedPlate:
    """Hold one plate as it is handed out.

    Attributes
    ----------
    name : str
        What it is called, in files and their names.
    row : mapping of str to str
        Its catalogue entry, by `wherestood.daybook.catalogue`'s column names.
    precision : str
        How closely its place may be published: ``exact``, ``100 m`` ...
    place_words : str
        Its place in words that may be published.
    date_edtf : str
        When it was exposed, EDTF, as closely as may be told.
    date_basis : str
        What that rests on.
    answer : Answer or None
    marks : tuple of Marked
    features : tuple of str
        Keys of the features it shows.
    picture : Picture or None
    comparisons : tuple of Drawn
        Pictures drawn of its answer.
    then_and_now : ThenAndNow or None
        With a photograph made again from its station.
    credits : tuple of str
        Credit lines, and who holds which right.
    withheld : tuple of str
        What is not told of it, each in a few words.
    """

    name: str
    row: Mapping[str, str] = field(default_factory=dict)
    precision: str = "exact"
    place_words: str = ""
    date_edtf: str = ""
    date_basis: str = ""
    answer: Answer | None = None
    marks: tuple[Marked, ...] = ()
    features: tuple[str, ...] = ()
    picture: Picture | None = None
    comparisons: tuple[Drawn, ...] = ()
    then_and_now: ThenAndNow | None = None
    credits: tuple[str, ...] = ()
    withheld: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """Return its title, or its name where it has none."""
        return self.row.get("title") or self.name

    @property
    def place(self) -> Place | None:
        """Return the one place it was taken from, where an answer tells one."""
        if self.answer is None or not self.answer.is_one_place:
            return None
        return next(iter(self.answer.places), None)

    @property
    def places(self) -> tuple[Place, ...]:
        """Return every place that its answer tells."""
        return self.answer.places if self.answer is not None else ()


@dataclass(frozen=True)
class HandedOut:
    """Hold all that is handed out at once.

    Attributes
    ----------
    title : str
    kind : str
        ``full``, restricted, or ``public``.
    plates : tuple of HandedPlate
    features : tuple of Feature
    credits : tuple of str
        Of what belongs to no one plate: elevation, plans.
    made : str
        When, ISO 8601.
    version : str
        Of the program.
    address : str
        Where all of it will be found on the web; empty where nobody said.
    maps : tuple of ShadedMap
        Ground under the maps of the page.
    """

    title: str
    kind: Kind
    plates: tuple[HandedPlate, ...]
    features: tuple[Feature, ...] = ()
    credits: tuple[str, ...] = ()
    made: str = ""
    version: str = ""
    address: str = ""
    maps: tuple[ShadedMap, ...] = ()

    @property
    def is_public(self) -> bool:
        """Tell whether it is for everybody."""
        return self.kind == "public"

    @property
    def has_withheld(self) -> bool:
        """Tell whether something of a plate is not told."""
        return any(plate.withheld for plate in self.plates)

    def stems(self) -> dict[str, str]:
        """Return what the files of each plate are called, by the plate's name."""
        stems: dict[str, str] = {}
        taken: set[str] = set()
        for plate in self.plates:
            wanted = stem = _stem(plate.name)
            number = 2
            while stem.casefold() in taken:  # some disks do not tell a from A
                stem, number = f"{wanted}-{number}", number + 1
            taken.add(stem.casefold())
            stems[plate.name] = stem
        return stems


def _stem(name: str) -> str:
    """Return a name that every system, and every address on the web, can hold."""
    kept = re.sub(r"[^\w.-]+", "_", name).strip("._")[:80]
    return kept or "plate"
