"""Trace a true skyline as imperfectly as a person or program would."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.demo.camera_truth import CameraTruth
from wherestood.demo.draw_camera import PlateFacts
from wherestood.demo.fields import smooth_line
from wherestood.demo.settings import TraceSettings
from wherestood.demo.silhouette import Silhouette

__all__ = ["trace_by_hand"]

Array = NDArray[np.float64]

_GLASS_WARP, _PRINT_WARP = 0.0005, 0.001  # rms over the scan's diagonal
_PRINT_ASPECT_SD = 0.01


def trace_by_hand(
    truth: Silhouette,
    camera: CameraTruth,
    facts: PlateFacts,
    settings: TraceSettings,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    """Return the traced samples' x and y [px], gaps left out.

    Parameters
    ----------
    truth : Silhouette
        True row of the skyline in every column, at ``column + 0.5`` [px].
    camera : CameraTruth
        Size of the scan.
    facts : PlateFacts
        Prints stretch and curl, glass hardly.
    settings : TraceSettings
        How well it is traced.
    rng : numpy.random.Generator
        Source of randomness.
    """
    n = len(truth.where)
    y_px = _warped(truth.where, camera, facts, rng)
    y_px = y_px + settings.white_px * rng.standard_normal(n)
    y_px += settings.smooth_px * smooth_line(n, settings.smooth_reach_px, rng)
    for _ in range(settings.gross_runs):
        run = _draw_run(n, 0.1, rng)
        y_px[run] += rng.uniform(-1.0, 1.0) * settings.gross_px
    for _ in range(settings.gaps):
        y_px[_draw_run(n, settings.greatest_gap, rng)] = np.nan
    y_px[truth.distance_m < settings.gap_nearer_m] = np.nan
    kept = np.isfinite(y_px) & (y_px > 0.0) & (y_px < camera.height_px)
    columns_px = np.flatnonzero(kept).astype(np.float64) + 0.5
    return columns_px, np.asarray(y_px[kept], dtype=np.float64)


def _warped(
    y_px: Array, camera: CameraTruth, facts: PlateFacts, rng: np.random.Generator
) -> Array:
    """Stretch a print upright and bend it or the plate a little."""
    diagonal_px = 2.0 * camera.half_diagonal_px
    rms = _PRINT_WARP if facts.is_print else _GLASS_WARP
    bend_px = rms * diagonal_px * smooth_line(len(y_px), camera.width_px / 2.5, rng)
    stretch = rng.normal(1.0, _PRINT_ASPECT_SD if facts.is_print else 1e-6)
    middle_px = camera.height_px / 2.0
    return np.asarray(middle_px + stretch * (y_px - middle_px) + bend_px)


def _draw_run(n: int, greatest_share: float, rng: np.random.Generator) -> slice:
    """Draw a run of columns."""
    length = int(n * greatest_share * rng.uniform(0.25, 1.0))
    start = int(rng.integers(0, max(1, n - length)))
    return slice(start, start + length)
