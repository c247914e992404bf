"""Measure the step between two elevation models before joining them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.errors import TerrainError

__all__ = ["SeamStep", "lay_under", "measure_step"]

# Two models of one ground disagree by some 10 m (tree cover, smoothing, radar):
# common practice. Three times that is a fault of datum, unit or place.
_MODEL_SD_M = 10.0
_BEYOND_SD = 3.0
# Coarser cells plane off more, so the scatter may grow with them.
_SCATTER_PER_CELL = 0.2
# Errors of a model run together over some hundred cells.
_CELLS_PER_INDEPENDENT = 100.0
_SMALLEST_CONSTANT_M = 0.1
# The scatter of a median is that of a mean times sqrt(pi / 2).
_MEDIAN_FACTOR = math.sqrt(math.pi / 2.0)
_SD_PER_MAD = 1.4826
_SAMPLE_NODES = 2_000_000
_STRIP_ROWS = 512
_BAND_COARSE_CELLS = 2.0
_FEET_PER_METRE = 1.0 / 0.3048


@dataclass(frozen=True)
class SeamStep:
    """Hold how one model stands against another where both are known.

    Attributes
    ----------
    median_m, mad_m : float
        Median and median absolute deviation of coarser minus finer [m].
    nodes : int
        How many nodes both know.
    removed_m : float
        Constant taken off the coarser model [m], 0 where it is not significant.
    """

    median_m: float
    mad_m: float
    nodes: int
    removed_m: float


def measure_step(
    finer_m: NDArray[np.float32],
    coarser_m: NDArray[np.float32],
    cells_between: float,
) -> SeamStep | None:
    """Measure the step between two models on one grid.

    Parameters
    ----------
    finer_m, coarser_m : (rows, columns) float32 arrays
        Heights [m]; NaN where unknown.
    cells_between : float
        Nodes of the grid in one cell of the coarser model.

    Returns
    -------
    SeamStep or None
        None where no node is known to both.
    """
    stride = max(1, int(math.sqrt(finer_m.size / _SAMPLE_NODES)))
    step = (coarser_m[::stride, ::stride] - finer_m[::stride, ::stride]).ravel()
    step = step[np.isfinite(step)]
    if step.size == 0 and stride > 1:
        step = (coarser_m - finer_m).ravel()
        step, stride = step[np.isfinite(step)], 1
    if step.size == 0:
        return None
    median = float(np.median(step))
    mad = float(np.median(np.abs(step - median)))
    nodes = step.size * stride**2
    independent = max(1.0, nodes / cells_between**2 / _CELLS_PER_INDEPENDENT)
    error = _MEDIAN_FACTOR * _SD_PER_MAD * mad / math.sqrt(independent)
    significant = abs(median) > max(_BEYOND_SD * error, _SMALLEST_CONSTANT_M)
    return SeamStep(median, mad, nodes, median if significant else 0.0)


def lay_under(
    finer_m: NDArray[np.float32],
    coarser_m: NDArray[np.float32],
    *,
    cell_m: float,
    coarser_cell_m: float,
    names: tuple[str, str],
) -> tuple[str, ...]:
    """Fill, in place, what a finer model leaves open from a coarser one.

    Parameters
    ----------
    finer_m : (rows, columns) float32 array
        Heights [m]; NaN where unknown. Changed in place.
    coarser_m : (rows, columns) float32 array
        Heights on the same grid [m]. Changed in place.
    cell_m : float
        Node spacing of the grid [m].
    coarser_cell_m : float
        Cell size of the coarser model [m].
    names : (finer, coarser)
        Names for messages.

    Returns
    -------
    tuple of str
        What was measured and done, in plain words.

    Raises
    ------
    TerrainError
        If the two disagree more than two models of one ground can.
    """
    gaps = np.isnan(finer_m)
    step = measure_step(finer_m, coarser_m, max(1.0, coarser_cell_m / cell_m))
    if step is None:
        finer_m[gaps] = coarser_m[gaps]
        return (
            f"Warning: does not overlap {names[0]}, so the step between them could "
            "not be measured",
        )
    if step.median_m == 0.0 and step.mad_m == 0.0:
        finer_m[gaps] = coarser_m[gaps]
        return (f"meets {names[0]} without a step over {step.nodes} nodes",)
    _stop_if_implausible(finer_m, coarser_m, step, coarser_cell_m, names)
    notes = [
        f"against {names[0]}: median {step.median_m:+.2f} m, median absolute "
        f"deviation {step.mad_m:.2f} m over {step.nodes} nodes"
    ]
    if step.removed_m != 0.0:
        coarser_m -= np.float32(step.removed_m)
        notes.append(f"moved by {-step.removed_m:+.2f} m to meet {names[0]}")
    elif abs(step.median_m) > _SMALLEST_CONSTANT_M:
        notes.append("step left as it is: not significant against its scatter")
    if not (gaps & np.isfinite(coarser_m)).any():
        return (*notes, f"nothing of it shows: {names[0]} covers all")
    band = max(1, round(_BAND_COARSE_CELLS * coarser_cell_m / cell_m))
    _feather(finer_m, coarser_m, gaps, band)
    finer_m[gaps] = coarser_m[gaps]
    notes.append(f"seam smoothed over at most {band * cell_m:.0f} m inside {names[0]}")
    return tuple(notes)


def _feather(
    finer_m: NDArray[np.float32],
    coarser_m: NDArray[np.float32],
    gaps: NDArray[np.bool_],
    band: int,
) -> None:
    """Slide from the coarser to the finer model over a band inside the finer."""
    rows = finer_m.shape[0]
    for first in range(0, rows, _STRIP_ROWS):
        # A strip with the band on both sides knows every distance within the band.
        last = min(first + _STRIP_ROWS, rows)
        low, high = max(0, first - band), min(last + band, rows)
        seam = gaps[low:high] & np.isfinite(coarser_m[low:high])
        if not seam.any():
            continue
        distance = ndimage.distance_transform_cdt(~seam, metric="chessboard")
        distance = distance[first - low : last - low]
        finer, coarser = finer_m[first:last], coarser_m[first:last]
        inside = (distance > 0) & (distance <= band) & np.isfinite(finer + coarser)
        inside &= ~gaps[first:last]
        weight = distance[inside].astype(np.float32) / np.float32(band + 1)
        finer[inside] = weight * finer[inside] + (1.0 - weight) * coarser[inside]


def _stop_if_implausible(
    finer_m: NDArray[np.float32],
    coarser_m: NDArray[np.float32],
    step: SeamStep,
    coarser_cell_m: float,
    names: tuple[str, str],
) -> None:
    limit = _BEYOND_SD * _MODEL_SD_M
    scatter_limit = limit + _SCATTER_PER_CELL * coarser_cell_m
    scatter = _SD_PER_MAD * step.mad_m
    if abs(step.median_m) <= limit and scatter <= scatter_limit:
        return
    raise TerrainError(
        f"{names[1]} stands {step.median_m:+.1f} m (scatter {scatter:.1f} m) against "
        f"{names[0]} where they overlap; expected at most {limit:.0f} m "
        f"(scatter {scatter_limit:.0f} m).",
        _likely_cause(finer_m, coarser_m, names)
        + "Give one of them, or mend the wrong one.",
    )


def _likely_cause(
    finer_m: NDArray[np.float32],
    coarser_m: NDArray[np.float32],
    names: tuple[str, str],
) -> str:
    stride = max(1, int(math.sqrt(finer_m.size / _SAMPLE_NODES)))
    finer, coarser = finer_m[::stride, ::stride], coarser_m[::stride, ::stride]
    high = (finer > 30.0) & (coarser > 30.0)
    if not high.any():
        return "Their datums, units or places differ. "
    ratio = float(np.median(coarser[high] / finer[high]))
    for factor, name in ((1 / _FEET_PER_METRE, names[0]), (_FEET_PER_METRE, names[1])):
        if abs(ratio / factor - 1.0) < 0.05:
            return f"The heights of {name} look like feet with no unit stated. "
    return "Their vertical datums, units or places differ. "
