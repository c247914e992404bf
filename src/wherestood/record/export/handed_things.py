"""Hold what a plate shows, is marked with, and is a picture of, as it is handed out."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from shapely.geometry.base import BaseGeometry

__all__ = ["Drawn", "Feature", "Marked", "Picture"]


@dataclass(frozen=True)
class Drawn:
    """Name a picture that was drawn of an answer, and what it shows."""

    path: Path
    words: str


@dataclass(frozen=True)
class ThenAndNow:
    """Name a plate and a photograph made again from its station, laid on one another.

    Attributes
    ----------
    then, now : Path
        Of one size and shape.
    credit : str
        Of the photograph.
    """

    then: Path
    now: Path
    credit: str = ""


@dataclass(frozen=True)
class Marked:
    """Hold what is marked on a plate.

    Attributes
    ----------
    key : str
        The mark's, or the letter of what it marks.
    shape : str
        ``point``, ``line`` or ``outline``.
    points_px : tuple of (x, y)
        On the scan, upright [px].
    words : str
        What it is.
    feature : str
        Key of the feature it is taken to be; empty where none is said.
    """

    key: str
    shape: str
    points_px: tuple[tuple[float, float], ...]
    words: str = ""
    feature: str = ""


@dataclass(frozen=True)
class Feature:
    """Hold a thing on the ground.

    Attributes
    ----------
    key, what : str
    names : tuple of str
        In their sources' spelling; none is overwritten by another.
    shape : shapely geometry or None
        Longitude and latitude, WGS 84; None where no place may be told [deg].
    traced : bool
        Whether it was followed on a plate or a plan.
    sd_m, height_m : float or None
        Standard error of its place; height of its foot [m].
    existed_from, existed_to : str
        EDTF, as written.
    source : str
    side_m : float or None
        Side of the square that its place is told by; None where exact [m].
    """

    key: str
    what: str = ""
    names: tuple[str, ...] = ()
    shape: BaseGeometry | None = None
    traced: bool = False
    sd_m: float | None = None
    height_m: float | None = None
    existed_from: str = ""
    existed_to: str = ""
    source: str = ""
    side_m: float | None = None

    @property
    def title(self) -> str:
        """Return what it is called: its first name, what it is, or its key."""
        return next(iter(self.names), self.what or self.key)


@dataclass(frozen=True)
class Picture:
    """Name the scan of which a picture goes along.

    Attributes
    ----------
    scan : Path
        Its file.
    width_px, height_px : int
        As it is opened, upright: marks and camera are in these pixels [px].
    page : int
        Of the file, from 0.
    negative : bool or None
        Whether it is a negative; judged from its tones where None.
    reversed : bool
        Whether its file is left for right, and it is opened the other way.
    """

    scan: Path
    width_px: int
    height_px: int
    page: int = 0
    negative: bool | None = None
    reversed: bool = False
