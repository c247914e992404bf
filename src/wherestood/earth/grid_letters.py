"""Name the squares of 100 km that national and military grids are lettered by."""

from __future__ import annotations

import math

__all__ = ["BANDS", "BRITISH", "COLUMNS", "ROWS", "SQUARE_M", "grid_square", "utm_zone"]

SQUARE_M = 100_000.0
#: Letters of a row of five squares, from the north-west corner; I is left out.
BRITISH = "ABCDEFGHJKLMNOPQRSTUVWXYZ"
#: Bands of 8 degrees from 80 S, without I and O; the last reaches to 84 N.
BANDS = "CDEFGHJKLMNPQRSTUVWX"
#: Columns of squares, by zone modulo 3; rows, which repeat every 2000 km.
COLUMNS = ("STUVWXYZ", "ABCDEFGH", "JKLMNPQR")
ROWS = "ABCDEFGHJKLMNPQRSTUV"
_BRITISH, _IRISH = (27700,), (29901, 29902, 29903)


def utm_zone(lon_deg: float, lat_deg: float) -> tuple[int, str] | None:
    """Return zone and band of the Universal Transverse Mercator grid.

    Returns
    -------
    (int, str) or None
        None beyond 80 S and 84 N, where the grid is another.

    Notes
    -----
    With the wider zones of south-western Norway and of Svalbard, as in NGA.SIG.0012,
    "The Universal Grids and the Transverse Mercator and Polar Stereographic Map
    Projections" (2014), from memory.
    """
    if not -80.0 <= lat_deg <= 84.0:
        return None
    lon = (lon_deg + 180.0) % 360.0 - 180.0
    zone = math.floor((lon + 180.0) / 6.0) + 1
    if 56.0 <= lat_deg < 64.0 and 3.0 <= lon < 12.0:
        zone = 32
    if lat_deg >= 72.0 and 0.0 <= lon < 42.0:
        zone = 31 + 2 * math.floor((lon + 3.0) / 12.0)
    band = BANDS[min(math.floor((lat_deg + 80.0) / 8.0), len(BANDS) - 1)]
    return zone, band


def grid_square(east_m: float, north_m: float, zone: int | None, epsg: int) -> str:
    """Return the letters of the square of 100 km, empty where a grid has none.

    Parameters
    ----------
    east_m, north_m : float
        On the grid [m].
    zone : int or None
        Of the Universal Transverse Mercator grid, if it is that.
    epsg : int
        Its code, 0 if it has none.

    Notes
    -----
    The military grid's letters for UTM; the Ordnance Survey's in Britain and Ireland.
    """
    column, row = (math.floor(part / SQUARE_M) for part in (east_m, north_m))
    if zone is not None and 1 <= column <= 8:
        first = 0 if zone % 2 else 5
        return COLUMNS[zone % 3][column - 1] + ROWS[(row + first) % len(ROWS)]
    if epsg in _BRITISH and 0 <= column < 7 and 0 <= row < 13:
        # Squares of 500 km, each of 25, both lettered from the north-west.
        down = 19 - row
        large = down - down % 5 + (column + 10) // 5
        return BRITISH[large] + BRITISH[down * 5 % 25 + column % 5]
    if epsg in _IRISH and 0 <= column < 5 and 0 <= row < 5:
        return BRITISH[(4 - row) * 5 + column]
    return ""
