"""Say what is believed of a lens before the skyline is looked at."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import LensError
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate

__all__ = ["LARGEST", "SMALLEST", "LensPrior", "lens_prior"]

Array = NDArray[np.float64]

#: Principal distance over the scan's diagonal: beyond these no plate lens reaches.
SMALLEST, LARGEST = 0.45, 2.2
#: Step of ln c in the screen.
STEP = 0.08
# The mixture of view-camera lenses (common practice): most near 0.92 of the
# diagonal, some much longer or shorter. Weight, mean of ln c, sd of ln c.
_PARTS = ((0.85, math.log(0.92), 0.25), (0.15, 0.0, 0.5))
# Doubt of pixels to a millimetre where only the size of a trimmed plate is known.
_TRIM_SD = 0.04


@dataclass(frozen=True)
class LensPrior:
    """Hold the prior of ln c, c the principal distance over the scan's diagonal.

    Attributes
    ----------
    mean, sd : float
        Of the normal density that the climb uses.
    known : bool
        Whether the person knows the lens; else the mixture holds.
    limits : (2,) float64 array
        Least and greatest ln c.
    """

    mean: float
    sd: float
    known: bool
    limits: Array

    def grid(self) -> Array:
        """Return the values of ln c to screen."""
        low, high = self.limits
        if self.known:
            low = max(low, self.mean - 2.5 * self.sd)
            high = min(high, self.mean + 2.5 * self.sd)
        count = max(3, math.ceil((high - low) / STEP) + 1)
        return np.linspace(low, high, count)

    def log_density(self, ln_c: Array) -> Array:
        """Return the log prior density of ln c."""
        if self.known:
            return _log_normal(ln_c, self.mean, self.sd)
        parts = [math.log(w) + _log_normal(ln_c, m, s) for w, m, s in _PARTS]
        return np.asarray(np.logaddexp(parts[0], parts[1]))

    def correction(self, ln_c: Array) -> Array:
        """Return what turns the climb's normal density into the prior's own."""
        return self.log_density(ln_c) - _log_normal(ln_c, self.mean, self.sd)


def _log_normal(x: Array, mean: float, sd: float) -> Array:
    return np.asarray(
        -0.5 * ((x - mean) / sd) ** 2 - math.log(sd * math.sqrt(2.0 * math.pi))
    )


def lens_prior(plate: Plate, diagonal_px: float, settings: LocateSettings) -> LensPrior:
    """Return the prior of the lens for a plate and what the person knows.

    Raises
    ------
    LensError
        If the principal distance lies outside what any plate lens has, or
        cannot be used because neither plate size nor scan resolution is known.
    """
    limits = np.log([SMALLEST, LARGEST])
    if settings.principal_distance_mm is None:
        return LensPrior(math.log(0.93), 0.30, False, limits)
    px_per_mm, doubt = _scale(plate)
    c = settings.principal_distance_mm * px_per_mm / diagonal_px
    if not SMALLEST <= c <= LARGEST:
        raise LensError(
            f"A principal distance of {settings.principal_distance_mm:g} mm is "
            f"{c:.2f} times the diagonal of this plate; lenses lie between "
            f"{SMALLEST} and {LARGEST} times.",
            "Check the distance, the plate size (--size) and the scan's resolution "
            "(--scan-ppi).",
        )
    given = settings.principal_distance_sd_mm
    relative = 0.03 if given is None else given / settings.principal_distance_mm
    return LensPrior(math.log(c), math.hypot(max(relative, 0.003), doubt), True, limits)


def _scale(plate: Plate) -> tuple[float, float]:
    """Return pixels to a millimetre and its relative doubt."""
    if plate.px_per_mm is not None:
        return plate.px_per_mm, 0.003
    if plate.size_mm is not None:
        return max(plate.width_px, plate.height_px) / max(plate.size_mm), _TRIM_SD
    raise LensError(
        "The principal distance is given in millimetres, but neither the plate's "
        "size nor the scan's resolution is known.",
        "Give --size or --scan-ppi, or leave the principal distance out.",
    )
