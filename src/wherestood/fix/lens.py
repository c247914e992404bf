"""Say what is believed of a lens before the skyline is looked at."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.camera.priors import (
    LONGEST_OVER_DIAGONAL,
    SHORTEST_OVER_DIAGONAL,
    Mixture,
    distance_prior,
)
from wherestood.errors import LensError
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate

__all__ = ["LensPrior", "lens_prior"]

Array = NDArray[np.float64]

#: Step of ln c in the screen.
STEP = 0.08
#: No scan is laid out better than this (common practice).
SCAN_SD = 0.003
#: Doubt of pixels to a millimetre where only the size of a trimmed plate is known:
#: half of what a trim takes off in the middling case (common practice).
TRIM_SD = 0.04


@dataclass(frozen=True)
class LensPrior:
    """Hold the prior of ln c, c the principal distance over the scan's diagonal.

    Attributes
    ----------
    mean, sd : float
        Of the one normal density that the climb uses: of the same moments as the
        prior; what it lacks is made up for afterwards (`correction`).
    known : bool
        Whether the person knows the lens.
    ln_c : Mixture
        The prior itself, cut off at the least and greatest ln c.
    """

    mean: float
    sd: float
    known: bool
    ln_c: Mixture

    @property
    def limits(self) -> Array:
        """Return the least and greatest ln c."""
        return np.array([self.ln_c.low, self.ln_c.high])

    def grid(self) -> Array:
        """Return the values of ln c to screen."""
        low, high = self.limits
        if self.known:
            low = max(low, self.mean - 2.5 * self.sd)
            high = min(high, self.mean + 2.5 * self.sd)
        count = max(3, math.ceil((high - low) / STEP) + 1)
        return np.linspace(low, high, count)

    def log_density(self, ln_c: Array) -> Array:
        """Return the log prior density of ln c, -inf outside the limits."""
        return self.ln_c.log_density(ln_c)

    def correction(self, ln_c: Array) -> Array:
        """Return what turns the climb's normal density into the prior's own."""
        climbed = Mixture((1.0,), (self.mean,), (self.sd,))
        return self.log_density(ln_c) - climbed.log_density(ln_c)


def lens_prior(plate: Plate, diagonal_px: float, settings: LocateSettings) -> LensPrior:
    """Return the prior of the lens for a plate and what the person knows.

    Raises
    ------
    LensError
        If the principal distance lies outside what any plate lens has, or
        cannot be used because neither plate size nor scan resolution is known.
    """
    mean_mm, sd_mm = settings.principal_distance_mm, settings.principal_distance_sd_mm
    if mean_mm is None or sd_mm is None:
        unknown = _within_limits(distance_prior(), plate, diagonal_px, settings)
        return LensPrior(unknown.mean, unknown.sd, False, unknown)
    px_per_mm, doubt = _scale(plate)
    c = mean_mm * px_per_mm / diagonal_px
    if not SHORTEST_OVER_DIAGONAL <= c <= LONGEST_OVER_DIAGONAL:
        raise LensError(
            f"A principal distance of {mean_mm:g} mm is "
            f"{c:.2f} times the diagonal of this plate; lenses lie between "
            f"{SHORTEST_OVER_DIAGONAL} and {LONGEST_OVER_DIAGONAL} times.",
            "Check the distance, the plate size (--size) and the scan's resolution "
            "(--scan-ppi).",
        )
    sd = math.hypot(max(sd_mm / mean_mm, SCAN_SD), doubt)
    return LensPrior(math.log(c), sd, True, distance_prior(c, sd))


def _within_limits(
    prior: Mixture, plate: Plate, diagonal_px: float, settings: LocateSettings
) -> Mixture:
    """Return the prior of an unknown lens within what the person says of its length.

    The doubt of the plate's scale widens the limits: twice its standard error.
    """
    least_mm = settings.principal_distance_least_mm
    most_mm = settings.principal_distance_most_mm
    if least_mm is None and most_mm is None:
        return prior
    px_per_mm, doubt = _scale(plate)
    low, high = prior.low, prior.high
    if least_mm is not None:
        low = max(low, math.log(least_mm * px_per_mm / diagonal_px) - 2.0 * doubt)
    if most_mm is not None:
        high = min(high, math.log(most_mm * px_per_mm / diagonal_px) + 2.0 * doubt)
    if not low < high:
        raise LensError(
            f"A lens of {_range(least_mm, most_mm)} is none that covers this plate; "
            f"lenses lie between {SHORTEST_OVER_DIAGONAL} and {LONGEST_OVER_DIAGONAL} "
            f"times its diagonal of {diagonal_px / px_per_mm:.0f} mm.",
            "Check the limits, the plate size (--size) and the scan's resolution "
            "(--scan-ppi).",
        )
    return replace(prior, low=low, high=high)


def _range(least_mm: float | None, most_mm: float | None) -> str:
    if least_mm is None:
        return f"{most_mm:g} mm at most"
    if most_mm is None:
        return f"{least_mm:g} mm at least"
    return f"{least_mm:g} to {most_mm:g} mm"


def _scale(plate: Plate) -> tuple[float, float]:
    """Return pixels to a millimetre and its relative doubt."""
    if plate.px_per_mm is not None:
        return plate.px_per_mm, SCAN_SD
    if plate.size_mm is not None:
        return max(plate.width_px, plate.height_px) / max(plate.size_mm), TRIM_SD
    raise LensError(
        "The principal distance is given in millimetres, but neither the plate's "
        "size nor the scan's resolution is known.",
        "Give --size or --scan-ppi, or leave the principal distance out.",
    )
