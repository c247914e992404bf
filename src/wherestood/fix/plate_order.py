"""Say in which order the plates of a panorama hang, and how sure that is."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.fix.posterior import Posterior
from wherestood.fix.sight import sight_of

__all__ = ["hanging_orders", "order_probability"]

Array = NDArray[np.float64]


def hanging_orders(bearing: Array) -> NDArray[np.int64]:
    """Return how plates hang, left to right: the widest gap is behind the camera.

    Parameters
    ----------
    bearing : (..., plates) float64 array
        Of their sights [rad].

    Returns
    -------
    (..., plates) int64 array
        Numbers of the plates.
    """
    turned = np.mod(bearing, 2.0 * np.pi)
    order = np.argsort(turned, axis=-1, kind="stable")
    sorted_ = np.take_along_axis(turned, order, axis=-1)
    gaps = np.diff(sorted_, axis=-1, append=sorted_[..., :1] + 2.0 * np.pi)
    first = np.argmax(gaps, axis=-1)[..., None] + 1
    plates = bearing.shape[-1]
    return np.take_along_axis(order, (np.arange(plates) + first) % plates, axis=-1)


def order_probability(posterior: Posterior, order: tuple[int, ...]) -> float:
    """Return the probability that the plates of a panorama hang so, left to right.

    Summed over all cameras at all cells, not at the likeliest place alone.
    """
    cells = posterior.cells
    assert cells.more_theta is not None
    theta = np.concatenate((cells.theta[..., None, :], cells.more_theta), axis=-2)
    so = (hanging_orders(sight_of(theta)[0]) == order).all(axis=-1)
    score = cells.mode_score - cells.log_density[:, None, None]
    share = np.where(np.isfinite(score), np.exp(np.minimum(score, 0.0)), 0.0)
    # A cell whose cameras were let go tells of no order.
    each = share.sum(axis=(1, 2))
    weight = posterior.mass * (each > 0.0)
    held = np.where(each > 0.0, (share * so).sum(axis=(1, 2)), 0.0)
    held = held / np.where(each > 0.0, each, 1.0)
    return float((weight * held).sum() / weight.sum())
