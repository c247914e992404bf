"""Draw an invented plate, its lens and how the camera was set up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wherestood.demo.camera_truth import CameraTruth
from wherestood.demo.settings import PlateSettings

__all__ = ["CameraDraw", "PlateFacts", "draw_camera"]

# Sizes of the trade, longer side first [mm]; from memory, inches times 25.4.
_PLATE_SIZES_MM = (
    (107.95, 82.55),  # quarter plate
    (165.1, 120.65),  # half plate
    (215.9, 165.1),  # whole plate
    (254.0, 203.2),  # 10 x 8 in
    (304.8, 254.0),  # 12 x 10 in
    (381.0, 304.8),  # 15 x 12 in
    (180.0, 130.0),  # 13 x 18 cm
    (240.0, 180.0),  # 18 x 24 cm
)
_SHORTEST_LENS, _LONGEST_LENS = 0.45, 2.2  # principal distance over diagonal


@dataclass(frozen=True)
class PlateFacts:
    """Hold what the fitter is told of plate and scan.

    Attributes
    ----------
    plate_mm : (float, float) or None
        Width and height of what was scanned [mm], None if not known.
    px_per_mm : float or None
        Scan resolution, None if not known.
    is_print, is_trimmed : bool
        Whether it is a print, and one cut down.
    """

    plate_mm: tuple[float, float] | None
    px_per_mm: float | None
    is_print: bool
    is_trimmed: bool


@dataclass(frozen=True)
class CameraDraw:
    """Hold a drawn camera with what is known of it."""

    camera: CameraTruth
    facts: PlateFacts


def draw_camera(rng: np.random.Generator, settings: PlateSettings) -> CameraDraw:
    """Draw a camera from the priors of the trade.

    Notes
    -----
    Principal distance over plate diagonal 0.85 LN(ln 0.92, 0.25) + 0.15
    LN(ln 1.0, 0.5) within 0.45 to 2.2; tilt 0.85 N(0, 1.5) + 0.15 N(0, 5) deg;
    roll N(0, 1.5) deg; rise N(0, 0.1 plate height); cross N(0, 0.03 plate
    width); k1 N(0.004, 0.006); bearing uniform.
    """
    width_mm, height_mm = _draw_size(rng)
    c_mm = _draw_lens(rng) * np.hypot(width_mm, height_mm)
    is_print = bool(rng.random() < settings.print_share)
    is_trimmed = bool(rng.random() < settings.trim_share)
    cuts = rng.uniform(0.0, settings.greatest_trim, 4) * is_trimmed
    left_mm, right_mm = cuts[0] * width_mm, width_mm * (1.0 - cuts[1])
    top_mm, bottom_mm = cuts[2] * height_mm, height_mm * (1.0 - cuts[3])
    longer_px = rng.integers(settings.least_width_px, settings.greatest_width_px + 1)
    px_per_mm = float(longer_px / max(right_mm - left_mm, bottom_mm - top_mm))
    axis_x_mm = width_mm / 2.0 - rng.normal(0.0, 0.03 * width_mm)
    axis_y_mm = height_mm / 2.0 + rng.normal(0.0, 0.1 * height_mm)
    tilt_sd_deg = 1.5 if rng.random() < 0.85 else 5.0
    camera = CameraTruth(
        bearing_deg=float(rng.uniform(0.0, 360.0)),
        tilt_deg=float(rng.normal(0.0, tilt_sd_deg)),
        roll_deg=float(rng.normal(0.0, 1.5)),
        c_px=float(c_mm * px_per_mm),
        x0_px=float((axis_x_mm - left_mm) * px_per_mm),
        y0_px=float((axis_y_mm - top_mm) * px_per_mm),
        k1=float(rng.normal(0.004, 0.006)),
        width_px=round((right_mm - left_mm) * px_per_mm),
        height_px=round((bottom_mm - top_mm) * px_per_mm),
        reversed=bool(rng.random() < settings.reversed_share),
    )
    known = bool(rng.random() < settings.size_known_share) and not is_trimmed
    size_mm = (right_mm - left_mm, bottom_mm - top_mm) if known else None
    ppm = px_per_mm if known else None
    return CameraDraw(camera, PlateFacts(size_mm, ppm, is_print, is_trimmed))


def _draw_size(rng: np.random.Generator) -> tuple[float, float]:
    """Draw a plate size, laid on its longer side five times in six."""
    longer_mm, shorter_mm = _PLATE_SIZES_MM[int(rng.integers(len(_PLATE_SIZES_MM)))]
    if rng.random() < 5.0 / 6.0:
        return longer_mm, shorter_mm
    return shorter_mm, longer_mm


def _draw_lens(rng: np.random.Generator) -> float:
    """Draw principal distance over plate diagonal."""
    while True:
        middle, spread = (0.92, 0.25) if rng.random() < 0.85 else (1.0, 0.5)
        ratio = float(middle * np.exp(spread * rng.standard_normal()))
        if _SHORTEST_LENS <= ratio <= _LONGEST_LENS:
            return ratio
