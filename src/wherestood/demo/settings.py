"""Draw how an invented world, its camera and its tracing are to be."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from wherestood.demo.canopy import ForestSettings
from wherestood.demo.degrade import ModelSettings

__all__ = [
    "InventionSettings",
    "PlateSettings",
    "TraceSettings",
    "ViewSettings",
    "WorldSettings",
    "draw_settings",
]


@dataclass(frozen=True)
class WorldSettings:
    """Say how the true world departs from the grid it grows from.

    Attributes
    ----------
    mesh_cell_m : float
        Wanted node spacing of the true world [m]; made coarser if the mesh
        would have over ``most_nodes`` nodes.
    detail_m : float
        Rms of the fractal detail at a slope of 0.3 [m].
    detail_longest_cells : float
        Longest wave of that detail [grid cells].
    refraction : float
        Refraction coefficient k.
    """

    mesh_cell_m: float = 25.0
    most_nodes: int = 1_500_000
    detail_m: float = 2.0
    detail_longest_cells: float = 4.0
    refraction: float = 0.13
    forest: ForestSettings = field(default_factory=ForestSettings)


@dataclass(frozen=True)
class ViewSettings:
    """Say which stations and views are taken.

    Attributes
    ----------
    margin_m : float
        No station nearer than this to the edge of the ground [m].
    open_m : float
        No tree nearer than this to the station [m].
    least_relief_deg : float
        Least sd of the horizon's elevation within the view [deg].
    nearest_median_m, farthest_median_m : float
        Bounds on the median distance of the horizon in the view [m].
    least_visible : float
        Least share of columns whose skyline lies in the frame.
    area_side_m : float
        Side of the ground searched, a square [m].
    lens_height_m, lens_height_sd_m : float
        Height of the lens above ground [m].
    """

    margin_m: float = 5000.0
    open_m: float = 40.0
    least_relief_deg: float = 0.3
    nearest_median_m: float = 800.0
    farthest_median_m: float = 15000.0
    least_visible: float = 0.8
    area_side_m: float = 3000.0
    lens_height_m: float = 1.5
    lens_height_sd_m: float = 0.15


@dataclass(frozen=True)
class PlateSettings:
    """Say how plate, lens and scan are drawn.

    Attributes
    ----------
    print_share, trim_share, size_known_share, reversed_share : float
        Probabilities that the scan is of a print, that it is trimmed, that the
        plate size of an untrimmed one is known, that it is mirrored.
    greatest_trim : float
        Most that a trim takes off each side, as a share of that side.
    least_width_px, greatest_width_px : int
        Bounds on the scan's longer side [px].
    """

    print_share: float = 0.5
    trim_share: float = 0.3
    size_known_share: float = 0.6
    reversed_share: float = 0.0
    greatest_trim: float = 0.08
    least_width_px: int = 1600
    greatest_width_px: int = 3600


@dataclass(frozen=True)
class TraceSettings:
    """Say how the skyline is traced.

    Attributes
    ----------
    white_px : float
        Sd of the error from column to column [px].
    smooth_px, smooth_reach_px : float
        Sd and correlation reach of the smooth error [px].
    gaps : int
        Runs of columns hidden by houses or trees.
    greatest_gap : float
        Greatest width of a gap, as a share of the frame.
    gap_nearer_m : float
        Land nearer than this is taken for foreground and left out [m].
    gross_runs : int
        Runs traced along something that is not the skyline.
    gross_px : float
        Greatest offset of such a run [px].
    """

    white_px: float = 0.5
    smooth_px: float = 0.7
    smooth_reach_px: float = 60.0
    gaps: int = 1
    greatest_gap: float = 0.12
    gap_nearer_m: float = 100.0
    gross_runs: int = 0
    gross_px: float = 40.0


@dataclass(frozen=True)
class InventionSettings:
    """Hold everything that governs an invented case."""

    world: WorldSettings = field(default_factory=WorldSettings)
    model: ModelSettings = field(default_factory=ModelSettings)
    view: ViewSettings = field(default_factory=ViewSettings)
    plate: PlateSettings = field(default_factory=PlateSettings)
    trace: TraceSettings = field(default_factory=TraceSettings)


def draw_settings(
    rng: np.random.Generator, *, cell_m: float = 30.0
) -> InventionSettings:
    """Draw settings that vary as widely as country, maps and makers do.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of randomness.
    cell_m : float
        Node spacing that the fitted model is to have [m].
    """
    return InventionSettings(
        _draw_world(rng),
        _draw_model(rng, cell_m),
        _draw_view(rng),
        PlateSettings(),
        _draw_trace(rng),
    )


def _draw_world(rng: np.random.Generator) -> WorldSettings:
    height_m = rng.uniform(6.0, 22.0)
    forest = ForestSettings(
        cover=float(rng.choice([0.0, rng.uniform(0.1, 0.9)], p=[0.15, 0.85])),
        patch_m=float(rng.uniform(200.0, 1500.0)),
        height_m=float(height_m),
        height_sd_m=float(rng.uniform(0.1, 0.3) * height_m),
        stand_m=float(rng.uniform(150.0, 800.0)),
        rough_sd_m=float(rng.uniform(0.5, 2.5)),
        clearings_per_km2=float(rng.uniform(1.0, 6.0)),
    )
    return WorldSettings(
        detail_m=float(rng.uniform(0.5, 4.0)),
        refraction=float(rng.normal(0.13, 0.03)),
        forest=forest,
    )


def _draw_model(rng: np.random.Generator, cell_m: float) -> ModelSettings:
    model = ModelSettings(
        cell_m=cell_m,
        error_sd_m=float(rng.uniform(1.5, 6.0)),
        error_reach_m=float(rng.uniform(200.0, 1000.0)),
        white_sd_m=float(rng.uniform(0.0, 1.0)),
        smoothing_cells=float(rng.uniform(0.3, 0.6)),
        shift_east_cells=float(rng.uniform(-0.3, 0.3)),
        shift_north_cells=float(rng.uniform(-0.3, 0.3)),
        whole_metres=bool(rng.random() < 0.5),
    )
    kind = rng.random()
    if kind < 0.6:
        return model
    share = float(rng.uniform(0.3, 0.9))
    return replace(
        model, surface="unknown" if kind < 0.85 else "top", canopy_share=share
    )


def _draw_view(rng: np.random.Generator) -> ViewSettings:
    # Near hills, middle distance and far ranges, in equal parts.
    bands_m = [(300.0, 2000.0), (1200.0, 6000.0), (3500.0, 20000.0)]
    nearest_m, farthest_m = bands_m[int(rng.integers(len(bands_m)))]
    return ViewSettings(
        open_m=float(rng.uniform(30.0, 80.0)),
        least_relief_deg=float(rng.uniform(0.25, 0.8)),
        nearest_median_m=nearest_m,
        farthest_median_m=farthest_m,
        area_side_m=float(rng.uniform(2000.0, 3500.0)),
    )


def _draw_trace(rng: np.random.Generator) -> TraceSettings:
    return TraceSettings(
        white_px=float(rng.uniform(0.2, 1.2)),
        smooth_px=float(rng.uniform(0.0, 1.5)),
        smooth_reach_px=float(rng.uniform(15.0, 200.0)),
        gaps=int(rng.choice([0, 1, 2, 3], p=[0.4, 0.3, 0.2, 0.1])),
        greatest_gap=float(rng.uniform(0.05, 0.2)),
        gap_nearer_m=float(rng.uniform(60.0, 150.0)),
        gross_runs=int(rng.random() < 0.1),
    )
