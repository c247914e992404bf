"""Find how far an offset leans on parts of what is seen, by leaving each part out.

Errors of ground, woods and pairs hang together over a part of the view, so that many
things there tell hardly more than one: least squares takes them for separate. Left out
part by part, as by Kuensch's block jackknife [1]_, they show how far the answer moves.

References
----------
.. [1] H. R. Kuensch, "The jackknife and the bootstrap for general stationary
   observations", The Annals of Statistics 17 (1989) 1217-1241.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import WherestoodError

__all__ = ["moved_by_parts", "parts_of_view"]

Array = NDArray[np.float64]
_BANDS, _SIDES = 3, 2
#: A part of fewer things is none.
_FEWEST = 8


def parts_of_view(inverse_m: Array, x_px: Array) -> NDArray[np.int64]:
    """Return to which part of the view things belong: near to far, left and right.

    Parameters
    ----------
    inverse_m : (n,) float64 array
        One over the distance [1/m].
    x_px : (n,) float64 array
        Across the plate [px].
    """
    edges = np.quantile(inverse_m, np.arange(1, _BANDS) / _BANDS)
    band = np.searchsorted(edges, inverse_m, side="right")
    part = np.zeros(inverse_m.size, dtype=np.int64)
    for number in range(_BANDS):
        here = band == number
        if here.any():
            right = x_px[here] > np.median(x_px[here])
            part[here] = _SIDES * number + right
    return part


def moved_by_parts(
    part: NDArray[np.int64], solve: Callable[[NDArray[np.bool_]], Array]
) -> Array:
    """Return the covariance that leaving each part out shows.

    Parameters
    ----------
    part : (n,) int64 array
        Of `parts_of_view`; below 0 what is never left out.
    solve : callable
        Takes which things count, returns the answer, (k,) float64 array.

    Returns
    -------
    (k, k) float64 array
    """
    answers = []
    for number in np.unique(part[part >= 0]):
        kept = part != number
        if kept.sum() < _FEWEST or (~kept).sum() < _FEWEST:
            continue
        try:
            answers.append(solve(kept))
        except WherestoodError:
            continue
    if len(answers) < 2:
        return np.zeros((answers[0].size,) * 2) if answers else np.zeros((3, 3))
    count = len(answers)
    off = np.array(answers) - np.mean(answers, axis=0)
    return np.asarray((count - 1) / count * off.T @ off)
