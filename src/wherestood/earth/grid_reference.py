"""Read grid references with letters, where the square is the doubt.

Two kinds are read: the grids of Great Britain and Ireland, whose letters name squares
of 500 and 100 km [1]_, and the military grid, whose letters name a zone, a band and
a square of 100 km [2]_. The digits after them narrow the square by tens.

References
----------
.. [1] Ordnance Survey, "A guide to coordinate systems in Great Britain", version 3.6
   (2020), section 7; the Irish grid has one letter for the same 25 squares of 100 km.
.. [2] National Geospatial-Intelligence Agency, NGA.STND.0037, "Universal Grids and
   Grid Reference Systems", version 2.0.0 (2014), sections 3 and 4 and appendix B.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pyproj

from wherestood.earth.grid_letters import BANDS, BRITISH, COLUMNS, ROWS, SQUARE_M
from wherestood.errors import InputError

__all__ = ["GridSquare", "looks_like_grid_reference", "read_grid_reference"]

_MOST_DIGITS = 5
_FORMS = (
    "Write it as NN 166 712 (Great Britain), O 159 345 (Ireland) or 32T MS 123 456 "
    "(military grid)."
)
_BRITISH_FORM = re.compile(r"^([HJNOST])([A-HJ-Z])(\d*)$")
_IRISH_FORM = re.compile(r"^([A-HJ-Z])(\d+)$")
_MILITARY_FORM = re.compile(r"^(\d{1,2})([C-HJ-NP-X])([A-HJ-NP-Z])([A-HJ-NP-V])(\d*)$")


@dataclass(frozen=True)
class GridSquare:
    """Hold the square that a grid reference names.

    Attributes
    ----------
    text : str
        The reference as written.
    lon_deg, lat_deg : float
        Its middle, WGS 84 [deg].
    side_m : float
        Its side [m].
    corners_deg : (4, 2) tuple
        Longitude and latitude of south-west, south-east, north-east and north-west
        corner, WGS 84 [deg].
    """

    text: str
    lon_deg: float
    lat_deg: float
    side_m: float
    corners_deg: tuple[tuple[float, float], ...]

    @property
    def sd_m(self) -> float:
        """Return the standard error of its middle, one axis [m].

        A place that is as likely anywhere in the square lies side / sqrt(12) off.
        """
        return self.side_m / float(np.sqrt(12.0))


def looks_like_grid_reference(text: str) -> bool:
    """Tell whether words have the form of a grid reference, right or wrong."""
    packed = _packed(text)
    return any(
        form.match(packed) for form in (_BRITISH_FORM, _IRISH_FORM, _MILITARY_FORM)
    )


def read_grid_reference(text: str) -> GridSquare:
    """Read a grid reference with letters.

    Parameters
    ----------
    text : str
        ``NN 166 712``, ``NN17``, ``O 159 345``, ``32T MS 123 456``; spaces are free.

    Returns
    -------
    GridSquare

    Raises
    ------
    InputError
        If it is none, its digits do not part into two halves, or there is no such
        square.

    Notes
    -----
    Great Britain's datum is carried over by the published shift of seven numbers,
    good to some 5 m, or by its grid where it is installed.
    """
    packed = _packed(text)
    if found := _MILITARY_FORM.match(packed):
        return _military(text, *found.groups())
    if found := _BRITISH_FORM.match(packed):
        first, second, digits = found.groups()
        return _national(text, 27700, *_british_corner(first, second), digits)
    if found := _IRISH_FORM.match(packed):
        letter, digits = found.groups()
        column, row = _place_of(letter)
        return _national(text, 29902, column * SQUARE_M, row * SQUARE_M, digits)
    raise InputError(f"The grid reference {text!r} cannot be read.", _FORMS)


def _packed(text: str) -> str:
    return re.sub(r"[\s,.]+", "", text).upper()


def _halves(text: str, digits: str) -> tuple[float, float, float]:
    """Return easting and northing within the square, and the side [m]."""
    if len(digits) % 2 or len(digits) > 2 * _MOST_DIGITS:
        raise InputError(
            f"The grid reference {text!r} has {len(digits)} digits; an even number up "
            f"to {2 * _MOST_DIGITS} was expected, half for the easting.",
            _FORMS,
        )
    half = len(digits) // 2
    side_m = SQUARE_M / 10.0**half
    if half == 0:
        return 0.0, 0.0, side_m
    return float(digits[:half]) * side_m, float(digits[half:]) * side_m, side_m


def _place_of(letter: str) -> tuple[int, int]:
    """Return column and row, from the south-west, of a letter among 25 squares."""
    index = BRITISH.index(letter)
    return index % 5, 4 - index // 5


def _british_corner(first: str, second: str) -> tuple[float, float]:
    """Return the south-west corner of a square of 100 km, from the false origin [m]."""
    large_column, large_row = _place_of(first)
    column, row = _place_of(second)
    # The false origin is the corner of square S: column 2, row 1 of the large ones.
    east = ((large_column - 2) * 5 + column) * SQUARE_M
    north = ((large_row - 1) * 5 + row) * SQUARE_M
    return east, north


def _national(
    text: str, epsg: int, east_m: float, north_m: float, digits: str
) -> GridSquare:
    within_e, within_n, side_m = _halves(text, digits)
    west, south = east_m + within_e, north_m + within_n
    # Seven columns and thirteen rows are land or its waters; Ireland has five by five.
    across, up = (700e3, 1300e3) if epsg == 27700 else (500e3, 500e3)
    if not (0.0 <= west < across and 0.0 <= south < up):
        raise InputError(
            f"The grid reference {text!r} names a square that the grid does not have.",
            "Check its letters.",
        )
    return _square(text, f"EPSG:{epsg}", west, south, side_m)


def _military(
    text: str, zone_words: str, band: str, column: str, row: str, digits: str
) -> GridSquare:
    zone = int(zone_words)
    columns = COLUMNS[zone % 3]
    if not 1 <= zone <= 60 or column not in columns:
        raise InputError(
            f"The grid reference {text!r} names a square that zone {zone} does not "
            "have.",
            "Check its letters; zones run from 1 to 60.",
        )
    within_e, within_n, side_m = _halves(text, digits)
    east_m = (columns.index(column) + 1) * SQUARE_M + within_e
    # Rows begin with F in zones of even number, with A in the others.
    row_index = (ROWS.index(row) - (5 if zone % 2 == 0 else 0)) % len(ROWS)
    north_m = _northing(zone, band, row_index * SQUARE_M) + within_n
    south = band < "N"
    square = _square(
        text, f"EPSG:{32700 + zone if south else 32600 + zone}", east_m, north_m, side_m
    )
    lowest = -80.0 + 8.0 * BANDS.index(band)
    highest = 84.0 if band == "X" else lowest + 8.0
    lats = [lat for _, lat in square.corners_deg]
    if max(lats) < lowest or min(lats) > highest:
        raise InputError(
            f"The grid reference {text!r} names a square that lies in no band {band}.",
            "Check its letters.",
        )
    return square


def _northing(zone: int, band: str, row_m: float) -> float:
    """Return the northing of a row of squares: rows repeat every 2000 km [m]."""
    lowest_deg = -80.0 + 8.0 * BANDS.index(band)
    south = band < "N"
    to_grid = _transformer(
        "EPSG:4326", f"EPSG:{32700 + zone if south else 32600 + zone}"
    )
    middle_deg = -183.0 + 6.0 * zone
    _, band_m = to_grid.transform(middle_deg, lowest_deg)
    # Away from the middle a parallel lies farther north, by less than a square.
    least = band_m - SQUARE_M
    repeat = 20.0 * SQUARE_M
    return float(row_m + np.ceil((least - row_m) / repeat) * repeat)


def _square(
    text: str, crs: str, west_m: float, south_m: float, side_m: float
) -> GridSquare:
    x = west_m + side_m * np.array([0.0, 1.0, 1.0, 0.0, 0.5])
    y = south_m + side_m * np.array([0.0, 0.0, 1.0, 1.0, 0.5])
    lon, lat = _transformer(crs, "EPSG:4326").transform(x, y)
    if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
        raise InputError(
            f"The grid reference {text!r} lies outside its grid.", "Check its letters."
        )
    corners = tuple((float(a), float(b)) for a, b in zip(lon[:4], lat[:4], strict=True))
    return GridSquare(text.strip(), float(lon[4]), float(lat[4]), side_m, corners)


@lru_cache(maxsize=256)
def _transformer(source: str, target: str) -> pyproj.Transformer:
    return pyproj.Transformer.from_crs(source, target, always_xy=True)
