"""Hold what a source says of the camera, its lens, plate and footing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, Literal, get_args

from wherestood.evidence.items.item import (
    Item,
    require_above_zero,
    require_number,
    require_word,
)
from wherestood.evidence.items.on_plate import Point

__all__ = ["CameraFacts", "Footing", "Process"]

Footing = Literal["tripod", "upper floor", "roof", "ship", "wharf"]
Process = Literal["glass negative", "direct positive", "print"]

_Corners = tuple[Point, Point, Point, Point]


@dataclass(frozen=True, kw_only=True)
class CameraFacts(Item):
    """Say what is known of the camera; None is not known.

    Attributes
    ----------
    footing : str or None
        What the camera stood on.
    lens_height_m, lens_height_sd_m : float or None
        Height of the lens over that footing's ground or water [m].
    principal_distance_mm, principal_distance_sd_mm : float or None
        Lens to plate and its standard error, together [mm].
    principal_distance_least_mm, principal_distance_most_mm : float or None
        Limits of a lens that is not known better [mm].
    plate_size : str or None
        Name or measures of the plate, as ``--size`` takes them.
    plate_corners_px : four (x, y) or None
        Top left, top right, bottom right, bottom left on the scan [px].
    trimmed : bool or None
        Whether plate or print was cut down by an unknown amount.
    process : str or None
        What was scanned.
    reversed : bool or None
        Whether the scan is left for right.
    """

    kind: ClassVar[str] = "camera"

    footing: Footing | None = None
    lens_height_m: float | None = None
    lens_height_sd_m: float | None = None
    principal_distance_mm: float | None = None
    principal_distance_sd_mm: float | None = None
    principal_distance_least_mm: float | None = None
    principal_distance_most_mm: float | None = None
    plate_size: str | None = None
    plate_corners_px: _Corners | None = None
    trimmed: bool | None = None
    process: Process | None = None
    reversed: bool | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if not self.id:
            self._set("id", "camera")
        super().__post_init__()
        if self.footing is not None:
            require_word(self, "footing", self.footing, get_args(Footing))
        if self.process is not None:
            require_word(self, "process", self.process, get_args(Process))
        if self.lens_height_m is not None:
            require_number(self, "lens_height_m", self.lens_height_m, 0.0, 300.0, "m")
        self._check_lengths()
        self._check_lens()
        if self.plate_corners_px is not None:
            self._check_corners()

    def _check_lengths(self) -> None:
        for field, unit in (
            ("lens_height_sd_m", "m"),
            ("principal_distance_mm", "mm"),
            ("principal_distance_sd_mm", "mm"),
            ("principal_distance_least_mm", "mm"),
            ("principal_distance_most_mm", "mm"),
        ):
            if (value := getattr(self, field)) is not None:
                require_above_zero(self, field, value, unit)

    def _check_lens(self) -> None:
        mean_mm, sd_mm = self.principal_distance_mm, self.principal_distance_sd_mm
        if (mean_mm is None) != (sd_mm is None):
            raise self.refusal(
                "principal_distance_mm",
                "the principal distance and its doubt must be given together",
                "Give principal_distance_mm and principal_distance_sd_mm.",
            )
        least = self.principal_distance_least_mm
        most = self.principal_distance_most_mm
        if least is not None and most is not None and least >= most:
            raise self.refusal(
                "principal_distance_least_mm",
                f"the least principal distance, {least:g} mm, is not below the most, "
                f"{most:g} mm",
                "Swap them.",
            )

    def _check_corners(self) -> None:
        corners: Sequence[Point] = self.plate_corners_px or ()
        numbers = [value for corner in corners for value in corner]
        if len(corners) != 4 or not all(map(math.isfinite, numbers)):
            raise self.refusal(
                "plate_corners_px",
                "four corners were expected",
                "Give top left, top right, bottom right, bottom left, in pixels.",
            )
        given = tuple((float(x), float(y)) for x, y in corners)
        self._set("plate_corners_px", given)
