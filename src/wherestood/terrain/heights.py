"""Turn raw raster values into heights in metres, or into nothing."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import TerrainError

__all__ = ["heights_in_metres", "plausibility_notes"]

# Values that programs write for "no height" and often forget to declare:
# common practice; no ground lies at any of them.
_SENTINELS = (-9999.0, -32768.0, -32767.0, 32767.0, -99999.0, -999999.0)
_BEYOND_ANY_VALUE = 1e30

_HIGHEST_GROUND_M = 9000.0
_LOWEST_DRY_GROUND_M = -450.0
_DEEPEST_SEA_M = -12_000.0
_HIGHEST_IN_FEET = 9000.0 / 0.3048
# The median slope of whole mountain districts stays under 35 deg; feet read as
# metres turn 15 deg into 41.
_IMPLAUSIBLE_SLOPE_DEG = 40.0
_SLOPE_SAMPLE_CELLS = 1_000_000


def heights_in_metres(
    raw: np.ma.MaskedArray,
    scale: float,
    offset: float,
    metres_per_unit: float,
) -> tuple[NDArray[np.float32], int]:
    """Turn raw values into heights.

    Parameters
    ----------
    raw : (rows, columns) masked array
        Values as stored, masked where the file declares none.
    scale, offset : float
        The band's scale and offset.
    metres_per_unit : float
        Metres in one unit of height [m].

    Returns
    -------
    heights : (rows, columns) float32 array
        Heights [m]; NaN where unknown.
    sentinels : int
        How many undeclared no-data values were met.
    """
    values = np.asarray(raw.data)
    declared = np.ma.getmaskarray(raw)
    undeclared = np.zeros(values.shape, dtype=np.bool_)
    for sentinel in _SENTINELS:
        undeclared |= values == sentinel
    undeclared &= ~declared
    if np.issubdtype(values.dtype, np.floating):
        # NaN speaks for itself and needs no declaration.
        declared = declared | np.isnan(values)
        undeclared |= ~(np.abs(values) < _BEYOND_ANY_VALUE) & ~declared
        values = np.where(declared | undeclared, values.dtype.type(0), values)
    factor, constant = scale * metres_per_unit, offset * metres_per_unit
    if factor == 1.0 and constant == 0.0:
        heights = values.astype(np.float32)
    else:
        heights = (values.astype(np.float64) * factor + constant).astype(np.float32)
    heights[declared | undeclared] = np.nan
    return heights, int(np.count_nonzero(undeclared))


def plausibility_notes(
    name: str, heights_m: NDArray[np.float32], cell_m: float
) -> tuple[str, ...]:
    """Warn of heights that no ground has.

    Parameters
    ----------
    name : str
        Name of the file, for messages.
    heights_m : (rows, columns) float32 array
        Heights [m]; NaN where unknown.
    cell_m : float
        Cell size [m].

    Returns
    -------
    tuple of str
        Warnings; feet read as metres cannot be told for sure from low ground.

    Raises
    ------
    TerrainError
        If the values cannot be heights of ground in metres or feet.
    """
    if not np.isfinite(heights_m).any():
        return ()
    lowest, highest = float(np.nanmin(heights_m)), float(np.nanmax(heights_m))
    if highest > _HIGHEST_IN_FEET or lowest < _DEEPEST_SEA_M:
        raise TerrainError(
            f"{name} holds values from {lowest:.0f} to {highest:.0f}, which are no "
            "heights in metres or feet.",
            "Declare the unit, the scale or the no-data value in the file.",
        )
    notes = []
    if highest > _HIGHEST_GROUND_M:
        notes.append(
            f"Warning: heights up to {highest:.0f} m are above any mountain; "
            "they may be feet with no unit stated"
        )
    slope = _median_slope_deg(heights_m, cell_m)
    if slope > _IMPLAUSIBLE_SLOPE_DEG:
        notes.append(
            f"Warning: half of the ground is steeper than {slope:.0f} deg; "
            "the heights may be feet with no unit stated"
        )
    if lowest < _LOWEST_DRY_GROUND_M:
        notes.append(
            f"Warning: heights go down to {lowest:.0f} m, below any dry ground; "
            "the model holds a sea floor"
        )
    return tuple(notes)


def _median_slope_deg(heights_m: NDArray[np.float32], cell_m: float) -> float:
    """Return the median slope [deg] over an even sample, NaN where there is none."""
    stride = max(1, int(np.sqrt(heights_m.size / _SLOPE_SAMPLE_CELLS)))
    inner = heights_m[:-1:stride, :-1:stride]
    east = heights_m[:-1:stride, 1::stride][:, : inner.shape[1]] - inner
    north = heights_m[1::stride, :-1:stride][: inner.shape[0]] - inner
    tangent = np.hypot(east, north) / cell_m
    tangent = tangent[np.isfinite(tangent)]
    if tangent.size == 0:
        return float("nan")
    return float(np.degrees(np.arctan(np.median(tangent))))
