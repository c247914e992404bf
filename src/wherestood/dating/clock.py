"""Tell one instant by the clocks that people kept.

**Local mean time** is what a place's own clock showed before zones: universal time and
four minutes to each degree of longitude. **By the sun** (local apparent time) is what a
sundial shows: local mean time and the equation of time. **Zone time** is universal time
and the zone's whole or half hours, with summer time where that was kept.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["DAY_MIN", "Clock", "clock_words", "local_mean_minutes"]

DAY_MIN = 1440.0
MINUTES_A_DEGREE = 4.0


@dataclass(frozen=True)
class Clock:
    """Hold one instant of a day by every clock [minutes after midnight].

    Attributes
    ----------
    local_mean_min, by_the_sun_min : float
        Local mean time, and time by the sun.
    zone_min : float or None
        Zone time; None where no zone is told.
    universal_min : float
        Universal time; below 0 or above 1440 on the day before or after.
    """

    local_mean_min: float
    by_the_sun_min: float
    zone_min: float | None
    universal_min: float

    @staticmethod
    def of(
        local_mean_min: float,
        lon_deg: float,
        equation_of_time_s: float,
        zone_hours: float | None = None,
    ) -> Clock:
        """Return all clocks of an instant of local mean time."""
        universal = local_mean_min - MINUTES_A_DEGREE * lon_deg
        zone = None if zone_hours is None else universal + 60.0 * zone_hours
        return Clock(
            local_mean_min, local_mean_min + equation_of_time_s / 60.0, zone, universal
        )


def local_mean_minutes(
    minutes: float,
    kept: str,
    lon_deg: float,
    equation_of_time_s: float = 0.0,
    zone_hours: float | None = None,
) -> float:
    """Return local mean time of an hour read off some clock [min].

    Parameters
    ----------
    minutes : float
        After midnight, by that clock.
    kept : {"local mean", "by the sun", "zone"}
        Which it is.
    lon_deg : float
        Longitude [deg].
    equation_of_time_s : float
        Of the day [s].
    zone_hours : float, optional
        The zone's hours ahead of universal time.
    """
    if kept == "by the sun":
        return minutes - equation_of_time_s / 60.0
    if kept == "zone":
        return minutes - 60.0 * (zone_hours or 0.0) + MINUTES_A_DEGREE * lon_deg
    return minutes


def clock_words(minutes: float) -> str:
    """Return minutes after midnight as hours and minutes.

    Examples
    --------
    >>> clock_words(642.4)
    '10:42'
    """
    hours, minute = divmod(round(minutes % DAY_MIN), 60)
    return f"{hours % 24}:{minute:02d}"
