"""Judge from its tones whether a scan is a negative."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

__all__ = ["looks_negative"]

BORDER_SHARE = 0.05
TOP_SHARE = 0.3
CLEAR_STEP = 0.25


def looks_negative(grey: NDArray[np.float32]) -> bool:
    """Say whether the blank part at the top is darker than what is below.

    Parameters
    ----------
    grey : (height, width) float32 array
        The scan as stored, 0 to 1.

    Returns
    -------
    bool
        True only where the tones say so clearly: the upper part is both much
        darker and no rougher than the lower.

    Notes
    -----
    On blue-sensitive plates the sky is the brightest and blankest large thing
    (common practice); on their negatives it is the darkest. The border is left
    out, since stains and mounts gather there.
    """
    height, width = grey.shape
    rim_y, rim_x = round(height * BORDER_SHARE), round(width * BORDER_SHARE)
    inner = grey[rim_y : height - rim_y, rim_x : width - rim_x]
    low, high = np.percentile(inner, [2.0, 98.0])
    if high - low <= 0.0:
        return False
    level = (inner - low) / (high - low)
    cut = max(1, round(level.shape[0] * TOP_SHARE))
    top, bottom = level[:cut], level[-2 * cut :]
    darker = float(np.median(bottom) - np.median(top)) > CLEAR_STEP
    return darker and _roughness(top) <= _roughness(bottom)


def _roughness(level: NDArray[np.float32]) -> float:
    detail = level - ndimage.median_filter(level, size=9)
    return float(np.median(np.abs(detail)))
