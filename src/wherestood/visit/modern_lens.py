"""Say which lens shows a plate's view on sensors in use today."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["SENSORS_MM", "ModernLens", "modern_lenses"]

#: Width and height of common sensors [mm]; common practice.
SENSORS_MM = {
    "full frame, 36 x 24 mm": (36.0, 24.0),
    "APS-C, 23.5 x 15.6 mm": (23.5, 15.6),
    "four thirds, 17.3 x 13 mm": (17.3, 13.0),
    "medium format, 43.8 x 32.9 mm": (43.8, 32.9),
}


@dataclass(frozen=True)
class ModernLens:
    """Hold a lens for one sensor.

    Attributes
    ----------
    sensor : str
        Its name.
    focal_mm : float
        The longest focal length that still holds the whole plate [mm].
    aside_mm : float
        Standard error, as the plate's own lens is known [mm].
    upright : bool
        Whether the camera is turned upright.
    """

    sensor: str
    focal_mm: float
    aside_mm: float
    upright: bool


def modern_lenses(
    width_px: float,
    height_px: float,
    distance_px: float,
    sd_px: float,
    rise_px: float = 0.0,
    cross_px: float = 0.0,
) -> list[ModernLens]:
    """Return the lens that shows a whole plate, for each sensor.

    Parameters
    ----------
    width_px, height_px : float
        Size of the plate [px].
    distance_px, sd_px : float
        Its principal distance and standard error [px].
    rise_px, cross_px : float
        How far the plate's middle lies off the lens axis [px]: a camera held level
        without movements must show that much more.

    Notes
    -----
    ``f = c s / p`` for the side that fills the sensor first, s the sensor's side and p
    the plate's, twice the offset added.
    """
    wide = width_px + 2.0 * abs(cross_px)
    tall = height_px + 2.0 * abs(rise_px)
    upright = tall > wide
    found = []
    for name, (long_mm, short_mm) in SENSORS_MM.items():
        sides = (short_mm, long_mm) if upright else (long_mm, short_mm)
        share = min(sides[0] / wide, sides[1] / tall)
        found.append(ModernLens(name, distance_px * share, sd_px * share, upright))
    return found
