"""Say which group of lenses took a plate, by the angle it covers.

across = 2 atan(b / 2c), b the plate's base or diagonal, c the principal distance
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wherestood.errors import LensError

__all__ = ["GROUPS", "LensGroup", "field_deg", "lens_groups"]

#: How soft a group's ends are [deg]: makers' claims and stops differ.
SOFT_DEG = 6.0


@dataclass(frozen=True)
class LensGroup:
    """Be a group of lenses.

    Attributes
    ----------
    name : str
        What the trade called it.
    least_deg, most_deg : float
        The angles over the plate's diagonal that it was used for [deg].
    since : int
        First year.
    mark, source : str
        Where that is from.
    """

    name: str
    least_deg: float
    most_deg: float
    since: int
    mark: str
    source: str


GROUPS = (
    LensGroup(
        "portrait lens", 18.0, 34.0, 1841, "from memory",
        "1841 seen; sharp over some 25 to 30 deg, from memory",
    ),
    LensGroup(
        "single landscape lens", 34.0, 55.0, 1812, "seen",
        "should never exceed 50 to 55 deg, 45 decidedly better (a dictionary of "
        "photography, Wall)",
    ),
    LensGroup(
        "triplet", 40.0, 60.0, 1858, "from memory",
        "1857 to 1859 seen; angle from memory",
    ),
    LensGroup(
        "rapid rectilinear", 40.0, 65.0, 1866, "seen",
        "a half-plate outfit's 9 and 6 inch lenses cover 40 and 57 deg across (Wall); "
        "1866 from memory",
    ),
    LensGroup(
        "wide-angle", 68.0, 95.0, 1860, "from memory",
        "globe lens 1860 seen, 75 to 90 deg from memory; architecture 75 deg and more "
        "(Wall)",
    ),
    LensGroup(
        "anastigmat", 45.0, 85.0, 1890, "from memory", "1890 on, from memory"
    ),
)  # fmt: skip


def field_deg(principal_distance_mm: float, across_mm: float) -> float:
    """Return the angle across a length of the plate [deg].

    Examples
    --------
    >>> round(field_deg(9 * 25.4, 6.5 * 25.4), 1), round(field_deg(100, 100), 1)
    (39.7, 53.1)
    """
    if not principal_distance_mm > 0.0 or not across_mm > 0.0:
        raise LensError(
            f"Lens to plate {principal_distance_mm:g} mm and a side of "
            f"{across_mm:g} mm make no field.",
            "Give both as lengths above 0.",
        )
    return math.degrees(2.0 * math.atan(across_mm / (2.0 * principal_distance_mm)))


def lens_groups(
    principal_distance_mm: float,
    long_mm: float,
    short_mm: float,
    year: float | None = None,
) -> tuple[tuple[LensGroup, float], ...]:
    """Return the groups a lens may be of, each with how well it fits.

    Parameters
    ----------
    principal_distance_mm : float
        Lens to plate [mm].
    long_mm, short_mm : float
        The plate's sides [mm].
    year : float, optional
        The latest year in which the plate can have been exposed: groups not yet made
        are left out.

    Returns
    -------
    tuple of (LensGroup, float)
        The best first; 1 inside a group's angles, falling to 0 outside. All at 0 are
        left out.
    """
    diagonal = field_deg(principal_distance_mm, math.hypot(long_mm, short_mm))
    fits = []
    for group in GROUPS:
        outside = max(group.least_deg - diagonal, diagonal - group.most_deg, 0.0)
        fit = max(0.0, 1.0 - outside / SOFT_DEG)
        if fit > 0.0 and (year is None or group.since <= year):
            fits.append((group, fit))
    return tuple(sorted(fits, key=lambda each: -each[1]))
