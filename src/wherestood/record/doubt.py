"""Put numbers into words with no more digits than their doubt earns."""

from __future__ import annotations

import math
from fractions import Fraction

__all__ = [
    "area_in_words",
    "compass_words",
    "coordinates",
    "distance_in_words",
    "give_or_take",
    "odds_in_words",
    "round_to_doubt",
    "way_in_words",
]

METRES_A_DEGREE = 111_320.0  # of latitude, enough to choose a number of digits
MOST_DECIMALS_DEG = 6
_ODDS = [
    Fraction(*pair)
    for pair in [
        (1, 100),
        (1, 50),
        (1, 30),
        (1, 20),
        (1, 10),
        (1, 8),
        (1, 6),
        (1, 5),
        (1, 4),
        (1, 3),
        (2, 5),
        (1, 2),
        (3, 5),
        (2, 3),
        (3, 4),
        (4, 5),
        (5, 6),
        (7, 8),
        (9, 10),
        (19, 20),
        (49, 50),
        (99, 100),
    ]
]
_WINDS = [
    "north",
    "north-north-east",
    "north-east",
    "east-north-east",
    "east",
    "east-south-east",
    "south-east",
    "south-south-east",
    "south",
    "south-south-west",
    "south-west",
    "west-south-west",
    "west",
    "west-north-west",
    "north-west",
    "north-north-west",
]


def round_to_doubt(value: float, sd: float) -> tuple[str, str]:
    """Return a value and its doubt as text, ending at the same digit.

    The doubt keeps one significant digit, two where it begins with 1.

    Examples
    --------
    >>> round_to_doubt(214.3187, 0.284)
    ('214.3', '0.3')
    >>> round_to_doubt(1523.4, 134.0)
    ('1520', '130')
    """
    if not math.isfinite(sd) or sd <= 0:
        return f"{float(f'{value:.3g}'):g}", "unknown"
    exponent = math.floor(math.log10(sd))
    if sd / 10**exponent < 1.95:
        exponent -= 1
    decimals = max(0, -exponent)
    return f"{_to(value, exponent):.{decimals}f}", f"{_to(sd, exponent):.{decimals}f}"


def _to(value: float, exponent: int) -> float:
    """Round to a power of ten, halves to even."""
    return round(value, -exponent) + 0.0


def give_or_take(value: float, sd: float, unit: str) -> str:
    """Return a value with its doubt in words.

    Examples
    --------
    >>> give_or_take(12.3, 4.8, " m")
    '12 m, give or take 5'
    """
    number, doubt = round_to_doubt(value, sd)
    if doubt == "unknown":
        return f"{number}{unit}, its doubt not known"
    return f"{number}{unit}, give or take {doubt}"


def coordinates(lon_deg: float, lat_deg: float, sd_m: float) -> str:
    """Return latitude and longitude in words, digits cut to the doubt.

    Examples
    --------
    >>> coordinates(8.4567891, -46.1234567, 20.0)
    '46.1235° S, 8.4568° E'
    """
    decimals = MOST_DECIMALS_DEG
    if math.isfinite(sd_m) and sd_m > 0:
        earned = math.ceil(-math.log10(sd_m / METRES_A_DEGREE))
        decimals = min(max(earned, 1), MOST_DECIMALS_DEG)
    lon_deg = (lon_deg + 180.0) % 360.0 - 180.0
    north_south = "N" if lat_deg >= 0 else "S"
    east_west = "E" if lon_deg >= 0 else "W"
    return (
        f"{abs(lat_deg):.{decimals}f}° {north_south}, "
        f"{abs(lon_deg):.{decimals}f}° {east_west}"
    )


def odds_in_words(probability: float) -> str:
    """Return a probability as odds a person can picture.

    Examples
    --------
    >>> odds_in_words(0.91), odds_in_words(0.999), odds_in_words(0.002)
    ('about 9 in 10', 'more than 99 in 100', 'less than 1 in 100')
    """
    if not math.isfinite(probability):
        return "not known"
    if probability > 0.995:
        return "more than 99 in 100"
    if probability < 0.005:
        return "less than 1 in 100"

    def apart(odds: Fraction) -> float:
        return abs(_log_odds(float(odds)) - _log_odds(probability))

    nearest = min(_ODDS, key=apart)
    return f"about {nearest.numerator} in {nearest.denominator}"


def _log_odds(probability: float) -> float:
    return math.log(probability / (1.0 - probability))


def compass_words(bearing_deg: float) -> str:
    """Return the nearest of the sixteen compass points.

    Examples
    --------
    >>> compass_words(214.0), compass_words(359.0)
    ('south-west', 'north')
    """
    return _WINDS[round(bearing_deg / 22.5) % 16]


def way_in_words(east_m: float, north_m: float) -> str:
    """Return the nearest of the eight ways of the compass in which a movement goes.

    Examples
    --------
    >>> way_in_words(0.0, -60.0), way_in_words(2.0, 2.0)
    ('south', 'north-east')
    """
    turn = math.degrees(math.atan2(east_m, north_m))
    return compass_words(round(turn / 45.0) * 45.0)


def distance_in_words(distance_m: float) -> str:
    """Return a distance at two significant digits, in metres or kilometres.

    Examples
    --------
    >>> distance_in_words(87.2), distance_in_words(12_340.0)
    ('87 m', '12 km')
    """
    rounded = float(f"{distance_m:.2g}")
    if rounded < 1000:
        return f"{rounded:g} m"
    return f"{rounded / 1000:g} km"


def area_in_words(area_m2: float) -> str:
    """Return an area at two significant digits, in m², ha or km².

    Examples
    --------
    >>> area_in_words(850.0), area_in_words(43_000.0), area_in_words(25.3e6)
    ('850 m²', '4.3 ha', '25 km²')
    """
    rounded = float(f"{area_m2:.2g}")
    if rounded < 10_000:
        return f"{rounded:g} m²"
    if rounded < 1_000_000:
        return f"{rounded / 10_000:g} ha"
    return f"{rounded / 1e6:g} km²"
