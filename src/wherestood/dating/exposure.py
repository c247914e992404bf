"""Tell how long a plate was exposed, by how far moving things are blurred.

t = L d / (c v sin a)

t  exposure [s]
L  length of the blur along the movement [px]
d  distance [m]
c  principal distance [px]
v  speed [m/s], a the angle between movement and sight
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wherestood.errors import InputError

__all__ = ["SPEEDS_M_A_SECOND", "Exposure", "exposure_from_blur"]

#: Speed and its standard error, of ordinary going: from memory.
SPEEDS_M_A_SECOND = {
    "person walking": (1.35, 0.25),
    "person standing": (0.01, 0.006),
    "horse walking": (1.7, 0.3),
    "horse trotting": (3.6, 0.7),
    "cart": (1.4, 0.4),
    "river": (1.0, 0.6),
    "surf": (4.0, 1.5),
}


@dataclass(frozen=True)
class Exposure:
    """Be a time of exposure.

    Attributes
    ----------
    seconds : float
        The likeliest [s].
    low_s, high_s : float
        What holds two thirds [s]; low is 0 where the blur is too small to tell.
    """

    seconds: float
    low_s: float
    high_s: float

    @property
    def words(self) -> str:
        """Return what it tells, in words."""
        if self.low_s == 0.0:
            return f"no longer than {_time(self.high_s)}"
        return f"{_time(self.seconds)}, {_time(self.low_s)} to {_time(self.high_s)}"

    @property
    def process_words(self) -> str:
        """Return what plates were exposed so long, in words: common practice."""
        if self.high_s < 0.5:
            return (
                "shorter than wet plates were exposed out of doors: a dry plate or "
                "film, or the thing stood still"
            )
        if self.low_s > 2.0:
            return (
                "as wet plates and slow dry plates were exposed, by uncapping the lens"
            )
        return "short for a wet plate, ordinary for a dry one: it decides nothing"


def exposure_from_blur(
    blur_px: float,
    distance_m: float,
    principal_distance_px: float,
    moving: str = "person walking",
    *,
    blur_sd_px: float = 2.0,
    distance_sd_m: float = 0.0,
    across_deg: float = 90.0,
) -> Exposure:
    """Tell how long a plate was exposed.

    Parameters
    ----------
    blur_px : float
        Length of the blur along the movement, less the thing's own [px].
    distance_m, distance_sd_m : float
        How far it was, and that one's standard error [m].
    principal_distance_px : float
        Lens to plate [px].
    moving : str
        What moved, a key of `SPEEDS_M_A_SECOND`.
    blur_sd_px : float
        Standard error of the blur [px].
    across_deg : float
        Angle between its way and the sight [deg]; 90 is straight across.

    Raises
    ------
    InputError
        If a length is not above zero, the thing has no speed here, or it moved along
        the sight.
    """
    if moving not in SPEEDS_M_A_SECOND:
        raise InputError(
            f"No speed is known of {moving!r}.",
            f"Choose one of: {', '.join(SPEEDS_M_A_SECOND)}.",
        )
    sine = abs(math.sin(math.radians(across_deg)))
    if not (distance_m > 0.0 and principal_distance_px > 0.0 and blur_px >= 0.0):
        raise InputError(
            f"A blur of {blur_px:g} px at {distance_m:g} m, lens to plate "
            f"{principal_distance_px:g} px, cannot be reckoned with.",
            "Give distance and lens above 0, and the blur not below.",
        )
    if sine < 0.2:
        raise InputError(
            f"What moves at {across_deg:g} deg to the sight is hardly blurred by it.",
            "Measure something that crosses the picture.",
        )
    speed, speed_sd = SPEEDS_M_A_SECOND[moving]
    a_pixel_s = distance_m / (principal_distance_px * speed * sine)
    seconds = blur_px * a_pixel_s
    if blur_px < 2.0 * blur_sd_px:
        longest = (blur_px + 2.0 * blur_sd_px) * a_pixel_s * speed / (speed - speed_sd)
        return Exposure(seconds, 0.0, longest)
    spread = math.sqrt(
        (blur_sd_px / blur_px) ** 2
        + (distance_sd_m / distance_m) ** 2
        + (speed_sd / speed) ** 2
    )
    return Exposure(seconds, seconds * math.exp(-spread), seconds * math.exp(spread))


def _time(seconds: float) -> str:
    if seconds >= 90.0:
        return f"{seconds / 60.0:.0f} min"
    if seconds >= 9.5:
        return f"{seconds:.0f} s"
    if seconds >= 0.95:
        return f"{seconds:.1f} s"
    return f"1/{max(1, round(1.0 / max(seconds, 1e-4)))} s"
