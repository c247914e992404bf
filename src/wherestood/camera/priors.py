"""Say what was likely of a camera before its picture was looked at."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr, logsumexp
from scipy.stats import norm, truncnorm

from wherestood.errors import InputError, LensError

__all__ = [
    "LONGEST_OVER_DIAGONAL",
    "SHORTEST_OVER_DIAGONAL",
    "CameraPrior",
    "Mixture",
    "Offset",
    "camera_prior",
    "distance_prior",
]

Array = NDArray[np.float64]
Process = Literal["glass negative", "direct positive", "print"]

SHORTEST_OVER_DIAGONAL = 0.45
LONGEST_OVER_DIAGONAL = 2.2

TILT_WEIGHTS = (0.85, 0.15)
TILT_SD_DEG = (1.5, 5.0)
ROLL_SD_DEG = 1.5
SKEW_SD_DEG = 0.3
TRIM_SKEW_SD_DEG = 0.5
RISE_SD_SHARE = 0.1
CROSS_SD_SHARE = 0.03
TRIM_SHARE = 0.15
DISTANCE_WEIGHTS = (0.85, 0.15)
DISTANCE_MEDIANS = (0.92, 1.0)
DISTANCE_LN_SDS = (0.25, 0.5)
K1_MEAN = 0.003
K1_SD = 0.01
REVERSED = {"glass negative": 0.03, "direct positive": 0.95, "print": 0.03}
REVERSED_UNKNOWN = 0.05
OUT_OF_REACH_SDS = 3.0


@dataclass(frozen=True)
class Mixture:
    """Hold a weighted sum of normal densities, cut off at two limits.

    Attributes
    ----------
    weights, means, sds : tuple of float
        Of each part before the cut; the weights add up to 1.
    low, high : float
        Limits; the density between them integrates to 1.
    """

    weights: tuple[float, ...]
    means: tuple[float, ...]
    sds: tuple[float, ...]
    low: float = -math.inf
    high: float = math.inf

    def log_density(self, value: ArrayLike) -> Array:
        """Return the natural log of the density; -inf outside the limits."""
        values = np.asarray(value, dtype=np.float64)
        within = (values >= self.low) & (values <= self.high)
        parts = norm.logpdf(values[..., None], self.means, self.sds)
        whole = logsumexp(parts, axis=-1, b=np.asarray(self.weights))
        density: Array = np.where(within, whole - math.log(self._kept.sum()), -np.inf)
        return density

    @property
    def mean(self) -> float:
        """Mean, limits included."""
        return self._moments()[0]

    @property
    def sd(self) -> float:
        """Standard deviation, limits included."""
        return self._moments()[1]

    @property
    def _kept(self) -> Array:
        """Return the mass of each part that lies within the limits."""
        upper = norm.cdf(self.high, self.means, self.sds)
        lower = norm.cdf(self.low, self.means, self.sds)
        kept: Array = np.asarray(self.weights) * (upper - lower)
        return kept

    def _moments(self) -> tuple[float, float]:
        means, sds = np.asarray(self.means), np.asarray(self.sds)
        cut = truncnorm(
            (self.low - means) / sds, (self.high - means) / sds, loc=means, scale=sds
        )
        share = self._kept / self._kept.sum()
        mean = float(share @ cut.mean())
        square = float(share @ (cut.var() + cut.mean() ** 2))
        return mean, math.sqrt(square - mean**2)


@dataclass(frozen=True)
class Offset:
    """Hold a movement of the front with an unknown trim on top.

    Attributes
    ----------
    movement_sd_px : float
        Standard deviation of the movement [px].
    trim_px : float
        Trim: it moves the centre uniformly within half of this, either way [px].
    """

    movement_sd_px: float
    trim_px: float

    @property
    def sd_px(self) -> float:
        """Standard deviation of both together [px]."""
        return math.hypot(self.movement_sd_px, self.trim_px / math.sqrt(12.0))

    def log_density(self, offset_px: ArrayLike) -> Array:
        """Return the natural log of the density of an offset [1/px].

        Notes
        -----
        Normal and uniform convolved: ``(Phi(b) - Phi(a)) / T``, T the trim, a and
        b the ends of the uniform part as seen from the offset, over the sd.
        """
        offset = np.abs(np.asarray(offset_px, dtype=np.float64))
        if self.trim_px == 0.0:
            plain: Array = norm.logpdf(offset, scale=self.movement_sd_px)
            return plain
        # Taken on the lower side, where the log of the normal integral is exact.
        nearer = log_ndtr((self.trim_px / 2.0 - offset) / self.movement_sd_px)
        farther = log_ndtr((-self.trim_px / 2.0 - offset) / self.movement_sd_px)
        both: Array = nearer + np.log1p(-np.exp(farther - nearer))
        return both - math.log(self.trim_px)


@dataclass(frozen=True)
class CameraPrior:
    """Hold what was likely of a camera and its scan before the picture was read.

    Without a source named these are common practice.

    Attributes
    ----------
    width_px, height_px : int
        Size of the scan [px].
    tilt_rad : Mixture
        Lens axis above the horizontal [rad]. A view camera is set plumb and
        composed with the rise: sd 1.5 deg; one in seven is pointed: sd 5 deg.
    roll_sd_rad : float
        A levelled stand, 1.5 deg, with the skew of the scan (0.3 deg) and, of a
        trimmed print, of the cut (0.5 deg), in quadrature [rad].
    rise, cross : Offset
        Movements of the front: sd a tenth of the height and 3% of the width. A
        trim of unknown size is taken as 15% of the side.
    ln_c : Mixture
        Natural log of principal distance over the frame's diagonal. Lenses were
        sold by the plate they cover, near its diagonal: 0.85 LN(0.92, 0.25) +
        0.15 LN(1.0, 0.5), median and sd of the log, cut off at 0.45 and 2.2; or
        normal about a lens that is known, with the same limits.
    k1_mean, k1_sd : float
        Radial term at the half-diagonal, no unit; single lenses with a stop in
        front draw barrel, doublets nearly none.
    vertical_scale_sd, shear_sd : float
        Vertical over horizontal scale less 1, and shear [rad]: 0.01 and 0.003 of
        paper that was wetted and stretched; of glass the scanner's two axes alone.
    warp_sd_over_diagonal : float
        Smooth displacement from curl and copying, over the diagonal, no unit:
        0.4% of a print, 0.2% of glass.
    reversed_probability : float
        Probability that the scan is left for right: 0.03 of a glass negative or
        print (laid down the wrong way), 0.95 of a direct positive, 0.05 where the
        process is unknown (one plate in fifty a direct positive).
    """

    width_px: int
    height_px: int
    tilt_rad: Mixture
    roll_sd_rad: float
    rise: Offset
    cross: Offset
    ln_c: Mixture
    k1_mean: float
    k1_sd: float
    vertical_scale_sd: float
    shear_sd: float
    warp_sd_over_diagonal: float
    reversed_probability: float

    def log_density_ln_c(self, ln_c: ArrayLike) -> Array:
        """Return the log density of ln(principal distance / diagonal)."""
        return self.ln_c.log_density(ln_c)


def distance_prior(
    over_diagonal: float | None = None, relative_sd: float | None = None
) -> Mixture:
    """Return the prior of ln(principal distance / diagonal).

    Parameters
    ----------
    over_diagonal, relative_sd : float or None
        What is known of the principal distance over the frame's diagonal, and its
        relative standard deviation, together; None where the lens is unknown.

    Returns
    -------
    Mixture
        Cut off at 0.45 and 2.2 of the diagonal.
    """
    low, high = math.log(SHORTEST_OVER_DIAGONAL), math.log(LONGEST_OVER_DIAGONAL)
    if over_diagonal is None or relative_sd is None:
        medians = tuple(math.log(median) for median in DISTANCE_MEDIANS)
        return Mixture(DISTANCE_WEIGHTS, medians, DISTANCE_LN_SDS, low, high)
    return Mixture((1.0,), (math.log(over_diagonal),), (relative_sd,), low, high)


def camera_prior(
    width_px: int,
    height_px: int,
    *,
    trimmed: bool,
    principal_distance_px: float | None = None,
    principal_distance_sd_px: float | None = None,
    process: Process | None = None,
) -> CameraPrior:
    """Return what was likely of the camera of a scan.

    Parameters
    ----------
    width_px, height_px : int
        Size of the scan [px].
    trimmed : bool
        Whether plate or print was cut down by an unknown amount.
    principal_distance_px, principal_distance_sd_px : float or None
        Lens to plate and its standard deviation, together [px]; None where unknown.
    process : {"glass negative", "direct positive", "print"} or None
        What was scanned; None counts as a print in how it may be bent.

    Raises
    ------
    LensError
        If the principal distance is not above zero, or lies over 3 standard
        deviations outside 0.45 to 2.2 of the frame's diagonal.
    InputError
        If the scan has no size or the process is not known.
    """
    if width_px <= 0 or height_px <= 0:
        raise InputError(
            f"The scan must have a size, not {width_px} x {height_px} px.",
            "Give its width and height.",
        )
    if process is not None and process not in REVERSED:
        raise InputError(
            f"The process {process!r} is not known.",
            f"Choose one of: {', '.join(REVERSED)}.",
        )
    on_glass = process in ("glass negative", "direct positive")
    trim = TRIM_SHARE if trimmed else 0.0
    skew = math.hypot(SKEW_SD_DEG, TRIM_SKEW_SD_DEG if trimmed else 0.0)
    return CameraPrior(
        width_px=width_px,
        height_px=height_px,
        tilt_rad=Mixture(
            TILT_WEIGHTS, (0.0, 0.0), tuple(math.radians(sd) for sd in TILT_SD_DEG)
        ),
        roll_sd_rad=math.radians(math.hypot(ROLL_SD_DEG, skew)),
        rise=Offset(RISE_SD_SHARE * height_px, trim * height_px),
        cross=Offset(CROSS_SD_SHARE * width_px, trim * width_px),
        ln_c=_ln_c(
            math.hypot(width_px, height_px),
            principal_distance_px,
            principal_distance_sd_px,
        ),
        k1_mean=K1_MEAN,
        k1_sd=K1_SD,
        vertical_scale_sd=0.002 if on_glass else 0.01,
        shear_sd=0.001 if on_glass else 0.003,
        warp_sd_over_diagonal=0.002 if on_glass else 0.004,
        reversed_probability=(
            REVERSED_UNKNOWN if process is None else REVERSED[process]
        ),
    )


def _ln_c(diagonal_px: float, mean_px: float | None, sd_px: float | None) -> Mixture:
    if mean_px is None and sd_px is None:
        return distance_prior()
    if mean_px is None or sd_px is None:
        raise LensError(
            "The principal distance and its doubt must be given together.",
            "Give both, as in 296+-4.4.",
        )
    for name, value in (("", mean_px), ("doubt of the ", sd_px)):
        if not (math.isfinite(value) and value > 0.0):
            raise LensError(
                f"The {name}principal distance must be above 0 px, not {value:g} px.",
                "Give lens to plate as a positive length.",
            )
    shortest_px = SHORTEST_OVER_DIAGONAL * diagonal_px
    longest_px = LONGEST_OVER_DIAGONAL * diagonal_px
    reach_px = OUT_OF_REACH_SDS * sd_px
    if mean_px + reach_px < shortest_px or mean_px - reach_px > longest_px:
        raise LensError(
            f"The principal distance of {mean_px:.0f} +- {sd_px:.0f} px is "
            f"{mean_px / diagonal_px:.2f} of the frame's diagonal of "
            f"{diagonal_px:.0f} px; it must be {SHORTEST_OVER_DIAGONAL:g} to "
            f"{LONGEST_OVER_DIAGONAL:g} of it ({shortest_px:.0f} to "
            f"{longest_px:.0f} px).",
            "Check the principal distance, the plate's size and the resolution, "
            "or leave the lens unknown.",
        )
    return distance_prior(mean_px / diagonal_px, sd_px / mean_px)
