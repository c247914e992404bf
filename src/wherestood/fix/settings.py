"""Hold the settings of a search for a station."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from wherestood.errors import InputError, LensError

__all__ = [
    "Footing",
    "FootingHeight",
    "LocateSettings",
    "Process",
    "footing_height",
]

Footing = Literal["tripod", "upper floor", "roof", "ship", "wharf"]
Process = Literal["glass negative", "direct positive", "print"]
SurfaceKind = Literal["ground", "top", "unknown"]

LARGEST_NEAR_ENOUGH_M = 50_000.0
LARGEST_HORIZON_RADIUS_M = 300_000.0  # no land is seen from land beyond this


@dataclass(frozen=True)
class FootingHeight:
    """Say how high a lens stands for a kind of footing.

    Attributes
    ----------
    mean_m, sd_m : float
        Height of the lens and its standard deviation [m].
    over : {"ground", "water"}
        What the height is counted from.
    """

    mean_m: float
    sd_m: float
    over: Literal["ground", "water"]


# Common practice: a tripod's lens at breast height; an upper floor or roof 3 to
# 15 m up, taken as two standard deviations either side; a ship's deck; a wharf
# of some 2 m with a tripod on it.
_HEIGHTS: dict[str, FootingHeight] = {
    "tripod": FootingHeight(1.5, 0.3, "ground"),
    "upper floor": FootingHeight(7.0, 2.5, "ground"),
    "roof": FootingHeight(9.0, 3.0, "ground"),
    "ship": FootingHeight(5.0, 2.0, "water"),
    "wharf": FootingHeight(3.5, 1.0, "water"),
}


def footing_height(footing: Footing) -> FootingHeight:
    """Return the usual height of the lens for a kind of footing."""
    return _HEIGHTS[footing]


@dataclass(frozen=True)
class LocateSettings:
    """Hold everything a person may set about a search.

    Attributes
    ----------
    near_enough_m : float
        How close the answer must be for the question asked [m].
    footing : str
        What the camera stood on.
    lens_height_m, lens_height_sd_m : float or None
        Height of the lens over that footing's ground or water and its standard
        deviation, where known better than ``footing_height`` says [m].
    principal_distance_mm, principal_distance_sd_mm : float or None
        Lens to plate, and its standard deviation [mm]; None where unknown.
    principal_distance_least_mm, principal_distance_most_mm : float or None
        Limits of a lens that is not known better [mm]; None for those of the trade.
    trimmed : bool
        Whether the plate or print was cut down by an unknown amount.
    surface : {"ground", "top", "unknown"}
        What the elevation model's heights are of.
    refraction : float
        Refraction coefficient k, dimensionless.
    horizon_radius_m : float
        How far from the station land is looked for [m].
    reversed : bool or None
        Whether the scan is known to be left for right; None lets both be tried.
    process : str or None
        What was scanned, which sets the odds of a left-for-right scan.
    seed : int
        Seed of every random draw.

    Raises
    ------
    InputError
        If a value is out of range or not one of the known words.
    LensError
        If the principal distance or its doubt is not above zero.
    """

    near_enough_m: float = 125.0
    footing: Footing = "tripod"
    lens_height_m: float | None = None
    lens_height_sd_m: float | None = None
    principal_distance_mm: float | None = None
    principal_distance_sd_mm: float | None = None
    principal_distance_least_mm: float | None = None
    principal_distance_most_mm: float | None = None
    trimmed: bool = False
    surface: SurfaceKind = "unknown"
    refraction: float = 0.13
    horizon_radius_m: float = 30_000.0
    reversed: bool | None = None
    process: Process | None = None
    seed: int = 1

    def __post_init__(self) -> None:
        """Refuse what cannot be worked with."""
        _within("near enough", self.near_enough_m, 0.5, LARGEST_NEAR_ENOUGH_M, "m")
        _within("refraction", self.refraction, -1.0, 1.0, "")
        _within(
            "horizon radius",
            self.horizon_radius_m,
            1_000.0,
            LARGEST_HORIZON_RADIUS_M,
            "m",
        )
        _one_of("footing", self.footing, get_args(Footing))
        _one_of("surface", self.surface, get_args(SurfaceKind))
        if self.process is not None:
            _one_of("process", self.process, get_args(Process))
        if self.seed < 0:
            raise InputError(
                f"The seed must be zero or more, but {self.seed} was given.",
                "Give a whole number such as 1.",
            )
        self._check_lens_height()
        self._check_lens()

    def _check_lens_height(self) -> None:
        if self.lens_height_m is not None:
            _within("lens height", self.lens_height_m, 0.0, 300.0, "m")
        if self.lens_height_sd_m is not None:
            _within("doubt of the lens height", self.lens_height_sd_m, 0.01, 100.0, "m")

    def _check_lens(self) -> None:
        least_mm = self.principal_distance_least_mm
        most_mm = self.principal_distance_most_mm
        for name, value_mm in (("least", least_mm), ("greatest", most_mm)):
            if value_mm is not None and not (math.isfinite(value_mm) and value_mm > 0):
                raise LensError(
                    f"The {name} principal distance must be above 0 mm, but "
                    f"{value_mm:g} mm was given.",
                    "Give limits in millimetres, as in 200..320.",
                )
        if least_mm is not None and most_mm is not None and least_mm >= most_mm:
            raise LensError(
                f"The least principal distance, {least_mm:g} mm, is not below the "
                f"greatest, {most_mm:g} mm.",
                "Swap them.",
            )
        mean_mm, sd_mm = self.principal_distance_mm, self.principal_distance_sd_mm
        if mean_mm is None and sd_mm is None:
            return
        if mean_mm is None or sd_mm is None:
            raise LensError(
                "The principal distance and its doubt must be given together.",
                "Give both, as in 296+-4.4.",
            )
        for name, value_mm in (("", mean_mm), ("doubt of the ", sd_mm)):
            if not (math.isfinite(value_mm) and value_mm > 0):
                raise LensError(
                    f"The {name}principal distance must be above 0 mm, but "
                    f"{value_mm:g} mm was given.",
                    "Give lens to plate in millimetres, as in 296+-4.4.",
                )

    @property
    def lens_height(self) -> FootingHeight:
        """Return the height of the lens: as given, or as usual for the footing."""
        usual = footing_height(self.footing)
        if self.lens_height_m is None:
            return usual
        sd_m = self.lens_height_sd_m
        if sd_m is None:
            sd_m = max(0.3, 0.1 * self.lens_height_m)
        return FootingHeight(self.lens_height_m, sd_m, usual.over)


def _within(name: str, value: float, low: float, high: float, unit: str) -> None:
    """Refuse a number outside its limits, or not a number."""
    if not (math.isfinite(value) and low <= value <= high):
        end = f" {unit}".rstrip()
        raise InputError(
            f"The {name} must be between {low:g} and {high:g}{end}, but "
            f"{value:g}{end} was given.",
            "Give a number within these limits.",
        )


def _one_of(name: str, value: str, known: tuple[str, ...]) -> None:
    """Refuse a word that is not one of the known ones."""
    if value not in known:
        raise InputError(
            f"The {name} {value!r} is not known.",
            f"Choose one of: {', '.join(known)}.",
        )
