"""Find which pairs of points agree on some place and direction of a photograph.

The essential matrix is sought by Nister's five points [1]_ under MAGSAC [2]_, as OpenCV
has them. It tells which pairs may be right; where the ground is nearly flat, or the
camera hardly moved, it tells no place, and none is taken from it.

References
----------
.. [1] D. Nister, "An efficient solution to the five-point relative pose problem", IEEE
   Transactions on Pattern Analysis and Machine Intelligence 26 (2004) 756-770.
.. [2] D. Barath and others, "MAGSAC++, a fast, reliable and accurate robust estimator",
   IEEE Conference on Computer Vision and Pattern Recognition (2020) 1301-1309.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from wherestood.visit.photo_camera import PhotoCamera

__all__ = ["agreeing_pairs"]

Array = NDArray[np.float64]
_LEAST_PAIRS = 8


def agreeing_pairs(
    camera: PhotoCamera, directions: Array, photo_px: Array, miss_px: float
) -> NDArray[np.bool_] | None:
    """Return which pairs agree; None where nothing does.

    Parameters
    ----------
    camera : PhotoCamera
        Its lens is taken as it is.
    directions : (n, 3) float64 array
        Of the plate's points, level length 1: right, forward, up.
    photo_px : (n, 2) float64 array
        Where they seem to show on the photograph [px].
    miss_px : float
        How far a pair that agrees may be off there [px].
    """
    ahead = directions[:, 1] > 0.1
    if ahead.sum() < _LEAST_PAIRS:
        return None
    c = camera.principal_distance_px
    flat = directions[:, [0, 2]] / np.where(ahead, directions[:, 1], 1.0)[:, None]
    at = photo_px.copy()
    if camera.mirrored:
        at[:, 0] = camera.width_px - at[:, 0]
    now = (at - (0.5 * camera.width_px, 0.5 * camera.height_px)) / c
    which = np.flatnonzero(ahead)
    then = np.ascontiguousarray(flat[which] * (1.0, -1.0))
    try:
        _, agree = cv2.findEssentialMat(
            then, np.ascontiguousarray(now[which]), np.eye(3), method=cv2.USAC_MAGSAC,
            prob=0.9999, threshold=miss_px / c, maxIters=5000,
        )  # fmt: skip
    except cv2.error:
        return None
    found = np.zeros(len(photo_px), dtype=bool)
    if np.size(agree) != which.size:
        return None
    found[which] = np.asarray(agree, dtype=bool).ravel()
    return found if found.sum() >= _LEAST_PAIRS else None
