"""Make invented hills with valleys that water could have cut."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.demo.erosion import erode
from wherestood.demo.fields import fractal_field, smooth_field
from wherestood.demo.ground import GroundGrid

__all__ = ["invented_ground"]

Array = NDArray[np.float64]

_COARSENINGS_AND_STEPS = ((4, 150), (2, 60), (1, 25))
_UPLIFT_M = 6.0
_DETAIL_M = 2.5


def invented_ground(
    seed: int,
    *,
    nodes: int = 360,
    cell_m: float = 60.0,
    high_m: float = 600.0,
    water_share: float = 0.06,
) -> GroundGrid:
    """Return invented hills, the lowest valleys drowned.

    Parameters
    ----------
    seed : int
        The same seed gives the same ground.
    nodes : int
        Nodes a side, a multiple of 4.
    cell_m : float
        Node spacing [m].
    high_m : float
        Height that one node in fifty exceeds [m].
    water_share : float
        Share of the ground under water, which lies level at 0 m.
    """
    if nodes % 4:
        raise ValueError(f"nodes must be a multiple of 4, got {nodes}")
    rng = np.random.default_rng(seed)
    worn_m = _worn(rng, nodes)
    shore_m, summit_m = np.quantile(worn_m, [water_share, 0.98])
    height_m = (worn_m - shore_m) * high_m / (summit_m - shore_m)
    shape = height_m.shape
    detail_m = _DETAIL_M * fractal_field(shape, 8.0, rng)
    height_m += detail_m * np.clip(height_m / 60.0, 0.0, 1.0) ** 2
    half_m = (nodes - 1) * cell_m / 2.0
    return GroundGrid(
        np.maximum(height_m, 0.0).astype(np.float32),
        -half_m,
        -half_m,
        cell_m,
        name=f"invented {seed}",
        water_level_m=0.0,
    )


def _worn(rng: np.random.Generator, nodes: int) -> Array:
    """Uplift and wear down, coarse first: valleys keep their course when refined.

    Inputs are rounded so that the last bit of a transform, which differs between
    machines, cannot send a river another way.
    """
    shape = (nodes, nodes)
    broad, narrow = nodes / 3.3, nodes / 8.0
    uplift_m = 1.0 + 0.45 * smooth_field(shape, broad, rng)
    uplift_m += 0.3 * smooth_field(shape, narrow, rng)
    uplift_m = np.round(_UPLIFT_M * np.clip(uplift_m, 0.12, None), 6)
    hardness = 0.5 * smooth_field(shape, nodes / 9.0, rng)
    hardness += 0.35 * smooth_field(shape, nodes / 30.0, rng)
    erodibility = np.round(0.06 * np.exp(hardness), 8)
    height_m = rng.uniform(0.0, 20.0, (nodes // 4, nodes // 4))
    for coarsening, steps in _COARSENINGS_AND_STEPS:
        if height_m.shape[0] != nodes // coarsening:
            height_m = np.round(ndimage.zoom(height_m, 2, order=1), 4)
        height_m = height_m + rng.uniform(0.0, 3.0, height_m.shape)
        every = slice(None, None, coarsening)
        height_m = erode(
            height_m, uplift_m[every, every], erodibility[every, every], steps
        )
    return height_m
