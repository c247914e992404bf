"""Say what was likely of a camera before its picture was looked at."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr, logsumexp
from scipy.stats import norm, truncnorm

from wherestood.errors import InputError

__all__ = [
    "LONGEST_OVER_DIAGONAL",
    "SHORTEST_OVER_DIAGONAL",
    "CameraPrior",
    "Mixture",
    "Offset",
    "camera_prior",
    "distance_prior",
    "reversed_probability",
]

Array = NDArray[np.float64]
Process = Literal["glass negative", "direct positive", "print"]

# The one place where what is believed of cameras stands. All is common practice
# of view cameras, plates and prints: no published statistics are known to us.

#: Lenses were sold by the plate they cover: none is shorter or longer than this.
SHORTEST_OVER_DIAGONAL = 0.45
LONGEST_OVER_DIAGONAL = 2.2
#: Two families of lens, view lenses and all others: weight, median over the
#: diagonal, sd of the log.
DISTANCE_WEIGHTS = (0.85, 0.15)
DISTANCE_MEDIANS = (0.92, 1.0)
DISTANCE_LN_SDS = (0.25, 0.5)
#: Set plumb and composed with the rise, but one in seven is pointed.
TILT_WEIGHTS = (0.85, 0.15)
TILT_SD_DEG = (1.5, 5.0)
#: A levelled stand; the scan laid on by eye; the cut of a trim.
ROLL_SD_DEG = 1.5
SKEW_SD_DEG = 1.0
TRIM_SKEW_SD_DEG = 0.5
#: Movements of the front over the plate's height and width.
RISE_SD_SHARE = 0.1
CROSS_SD_SHARE = 0.03
#: A trim takes up to this share of a side, any amount of it from either end.
GREATEST_TRIM_SHARE = 0.15
#: Barrel of single lenses with a stop in front, next to none of doublets.
K1_MEAN = 0.003
K1_SD = 0.01
#: Vertical over horizontal scale less 1: paper was wetted and stretched; of glass
#: it is the scanner's two axes alone.
VERTICAL_SCALE_SD = {"paper": 0.01, "glass": 0.002}
#: Curl and copying, over the diagonal: second and third order across the width.
WARP_SDS = {"paper": (0.003, 0.002), "glass": (0.0015, 0.001)}
#: Scanned left for right: laid down the wrong way, or a direct positive, which is
#: a mirror image by nature. Where the process is not known, one plate in fifty is
#: taken for a direct positive.
REVERSED = {"glass negative": 0.03, "direct positive": 0.95, "print": 0.03}
REVERSED_UNKNOWN = 0.05


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

    All of it is common practice; the numbers stand at the head of this module.

    Attributes
    ----------
    width_px, height_px : int
        Size of the scan [px].
    tilt_rad : Mixture
        Lens axis above the horizontal [rad].
    roll_sd_rad : float
        Stand, skew of the scan and, of a trimmed print, of the cut, in quadrature
        [rad].
    rise, cross : Offset
        Movements of the front, and what a trim moved the centre by.
    ln_c : Mixture
        Natural log of principal distance over the frame's diagonal, the lens unknown.
    k1_mean, k1_sd : float
        Radial term at the half-diagonal, positive for barrel, no unit.
    vertical_scale_sd : float
        Vertical over horizontal scale less 1, no unit.
    warp_sds : (float, float)
        Vertical displacement from curl and copying over the diagonal, second and
        third order across the width, no unit.
    reversed_probability : float
        Probability that the scan is left for right.
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
    warp_sds: tuple[float, float]
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


def reversed_probability(process: Process | None) -> float:
    """Return how likely a scan of a process is left for right.

    Raises
    ------
    InputError
        If the process is not known.
    """
    if process is None:
        return REVERSED_UNKNOWN
    if process not in REVERSED:
        raise InputError(
            f"The process {process!r} is not known.",
            f"Choose one of: {', '.join(REVERSED)}.",
        )
    return REVERSED[process]


def camera_prior(
    width_px: int,
    height_px: int,
    *,
    trimmed: bool,
    process: Process | None = None,
) -> CameraPrior:
    """Return what was likely of the camera of a scan, its lens unknown.

    Parameters
    ----------
    width_px, height_px : int
        Size of the scan [px].
    trimmed : bool
        Whether plate or print was cut down by an unknown amount.
    process : {"glass negative", "direct positive", "print"} or None
        What was scanned; None counts as a print in how it may be bent.

    Raises
    ------
    InputError
        If the scan has no size or the process is not known.

    Notes
    -----
    A trim T moves the centre uniformly within T/2 either way. T itself is uniform up
    to its greatest share g of the side, so that the centre's variance is
    ``E[T^2] / 12 = g^2 / 36``: that of one trim of ``g / sqrt(3)``.
    """
    if width_px <= 0 or height_px <= 0:
        raise InputError(
            f"The scan must have a size, not {width_px} x {height_px} px.",
            "Give its width and height.",
        )
    likely_reversed = reversed_probability(process)
    made_of = "glass" if process in ("glass negative", "direct positive") else "paper"
    trim = GREATEST_TRIM_SHARE / math.sqrt(3.0) if trimmed else 0.0
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
        ln_c=distance_prior(),
        k1_mean=K1_MEAN,
        k1_sd=K1_SD,
        vertical_scale_sd=VERTICAL_SCALE_SD[made_of],
        warp_sds=WARP_SDS[made_of],
        reversed_probability=likely_reversed,
    )
