"""Make the elevation model that a map-maker would have got of a true world."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.demo.fields import smooth_field

__all__ = ["ModelSettings", "degrade_ground"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ModelSettings:
    """Say how an elevation model differs from the truth.

    Attributes
    ----------
    cell_m : float
        Node spacing of the model [m].
    error_sd_m : float
        Sd of the smooth vertical error [m].
    error_reach_m : float
        Correlation reach of that error [m].
    white_sd_m : float
        Sd of the error from node to node [m].
    smoothing_cells : float
        Sigma of the smoothing that shaves crests [model cells].
    shift_east_cells, shift_north_cells : float
        How far the model lies off the truth [model cells].
    surface : {"ground", "top", "unknown"}
        What the model is said to be.
    canopy_share : float
        Share of tree height that is in the model.
    whole_metres : bool
        Whether heights are rounded to metres.
    """

    cell_m: float = 30.0
    error_sd_m: float = 3.0
    error_reach_m: float = 400.0
    white_sd_m: float = 0.5
    smoothing_cells: float = 0.4
    shift_east_cells: float = 0.0
    shift_north_cells: float = 0.0
    surface: Literal["ground", "top", "unknown"] = "ground"
    canopy_share: float = 0.0
    whole_metres: bool = False


def degrade_ground(
    bare_m: Array,
    canopy_m: Array,
    mesh_cell_m: float,
    model: ModelSettings,
    rng: np.random.Generator,
    *,
    water_level_m: float | None = None,
) -> NDArray[np.float32]:
    """Return the model's heights, its node ``[0, 0]`` on the mesh's.

    Parameters
    ----------
    bare_m, canopy_m : (rows, columns) float64 array
        True ground and tree height on the mesh [m].
    mesh_cell_m : float
        Node spacing of the mesh [m].
    model : ModelSettings
        How the model is made.
    rng : numpy.random.Generator
        Source of randomness.
    water_level_m : float or None
        Level that ground at or below it is given, without error, as map-makers
        do with water [m].
    """
    surface_m = bare_m + model.canopy_share * canopy_m
    ratio = model.cell_m / mesh_cell_m
    smooth_m = ndimage.gaussian_filter(
        surface_m, model.smoothing_cells * ratio, mode="nearest"
    )
    rows = np.arange(int((bare_m.shape[0] - 1) / ratio) + 1) + model.shift_north_cells
    columns = np.arange(int((bare_m.shape[1] - 1) / ratio) + 1) + model.shift_east_cells
    nodes = np.meshgrid(rows * ratio, columns * ratio, indexing="ij")
    height_m = ndimage.map_coordinates(smooth_m, nodes, order=1, mode="nearest")
    height_m += model.error_sd_m * smooth_field(
        height_m.shape, max(1.0, model.error_reach_m / model.cell_m), rng
    )
    height_m += model.white_sd_m * rng.standard_normal(height_m.shape)
    if model.whole_metres:
        height_m = np.round(height_m)
    if water_level_m is not None:
        truth_m = ndimage.map_coordinates(bare_m, nodes, order=1, mode="nearest")
        land_m = np.maximum(height_m, water_level_m)
        height_m = np.where(truth_m <= water_level_m, water_level_m, land_m)
    return np.asarray(height_m, dtype=np.float32)
