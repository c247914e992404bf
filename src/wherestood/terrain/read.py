"""Open elevation files as one terrain."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wherestood.earth.curvature import DEFAULT_REFRACTION
from wherestood.errors import TerrainError
from wherestood.progress import Progress
from wherestood.terrain.checksum import file_sha256
from wherestood.terrain.grid import LARGEST_REACH_M, Grid, choose_grid
from wherestood.terrain.intake import list_elevation_files
from wherestood.terrain.lattice import Lattice, gather
from wherestood.terrain.model import SourceRecord, Surface, Terrain
from wherestood.terrain.mosaic import Mosaic, assemble
from wherestood.terrain.sources import survey

__all__ = ["open_terrain"]

_DEFAULT_MAX_NODES = 32_000_000
_SHARE_WORTH_A_NOTE = 0.001
_VOID_SAMPLES = 500


def open_terrain(
    paths: Sequence[Path | str] | Path | str,
    *,
    around: tuple[float, float] | None = None,
    radius_m: float | None = None,
    surface: Surface = "unknown",
    refraction: float = DEFAULT_REFRACTION,
    max_nodes: int = _DEFAULT_MAX_NODES,
    progress: Progress | None = None,
) -> Terrain:
    """Open one or several elevation files as one terrain.

    Parameters
    ----------
    paths : path, str or a sequence of them
        Rasters, folders of rasters, zips of either.
    around : (lon, lat), optional
        Centre of the ground needed, WGS 84 [deg]; all that the files cover if left
        out.
    radius_m : float, optional
        How far from the centre the ground is needed [m]; goes with ``around``.
    surface : {"ground", "top", "unknown"}
        What the heights are of.
    refraction : float
        Refraction coefficient k, no unit.
    max_nodes : int
        Most nodes to hold; where the ground has more, cells are averaged and the
        record says so.
    progress : Progress, optional
        Told how far the work has come.

    Returns
    -------
    Terrain
        Heights on one square grid. Where all files share one conformal grid in
        metres its cells are kept as they are; elsewhere heights are resampled once,
        by cubic convolution, to half the finest cell.

    Raises
    ------
    TerrainError
        If a file cannot be used, two disagree, or none reaches the ground.

    Notes
    -----
    What was found and done stands in ``Terrain.sources[...].notes``; a sentence
    that the person must see begins with ``Warning:``.
    """
    _check_asked(around, radius_m, max_nodes)
    listed = [paths] if isinstance(paths, str | Path) else list(paths)
    files = list_elevation_files(listed)
    if progress is not None:
        progress.stage("looking at elevation files", len(files))
    surveyed = []
    for file in files:
        surveyed.append(survey(file, around, radius_m))
        if progress is not None:
            progress.advance()
    sources = [source for source in surveyed if source is not None]
    away = len(surveyed) - len(sources)
    if not sources:
        # Surveyed without a place, they can be named in the refusal that follows.
        sources = [s for s in (survey(file) for file in files) if s is not None]
    lattices = gather(sources)
    grid = choose_grid(lattices, around, radius_m, max_nodes)
    mosaic = assemble(lattices, grid, progress)
    records = _records(lattices, mosaic, progress)
    extra = _coverage_notes(lattices, grid, mosaic, around, radius_m)
    if away:
        extra += (f"{away} other files lie away from the ground asked for",)
    records = (replace(records[0], notes=records[0].notes + extra), *records[1:])
    return Terrain(
        elevation_m=mosaic.elevation_m,
        west_m=grid.west_m,
        south_m=grid.south_m,
        cell_m=grid.cell_m,
        frame=grid.frame,
        surface=surface,
        source_cell_m=lattices[0].cell_m,
        refraction=refraction,
        water=mosaic.sea if mosaic.sea.any() else None,
        sources=records,
    )


def _check_asked(
    around: tuple[float, float] | None, radius_m: float | None, max_nodes: int
) -> None:
    if (around is None) != (radius_m is None):
        raise TerrainError(
            "A place and a radius go together, and only one was given.",
            "Give both, or neither for all that the files cover.",
        )
    if around is not None and not (abs(around[0]) <= 180.0 and abs(around[1]) <= 90.0):
        raise TerrainError(
            f"Longitude {around[0]:g}, latitude {around[1]:g} is no place on earth.",
            "Give longitude first, then latitude, in degrees.",
        )
    if radius_m is not None and not 0.0 < radius_m < math.inf:
        raise TerrainError(
            f"The radius must be a length above 0 m, not {radius_m:g} m.",
            "Thirty kilometres is usual.",
        )
    if radius_m is not None and radius_m > LARGEST_REACH_M:
        raise TerrainError(
            f"The radius must be at most {LARGEST_REACH_M / 1000:.0f} km, not "
            f"{radius_m / 1000:.0f} km.",
            "No ground shows from farther off; thirty kilometres is usual.",
        )
    if max_nodes < 16:
        raise TerrainError(
            f"A terrain needs at least 16 nodes, not {max_nodes}.", "Allow more."
        )


def _records(
    lattices: Sequence[Lattice], mosaic: Mosaic, progress: Progress | None
) -> tuple[SourceRecord, ...]:
    checksums: dict[Path, str] = {}
    records = []
    sources = [source for lattice in lattices for source in lattice.sources]
    for source, notes in zip(sources, mosaic.notes, strict=True):
        path = source.file.checksum_path
        if path not in checksums:
            checksums[path] = file_sha256(path, progress)
        records.append(
            SourceRecord(
                path=source.file.name,
                crs=source.reference.crs,
                cell_m=source.cell_m,
                vertical_datum=source.reference.vertical_datum,
                sha256=checksums[path],
                notes=notes,
            )
        )
    return tuple(records)


def _coverage_notes(
    lattices: Sequence[Lattice],
    grid: Grid,
    mosaic: Mosaic,
    around: tuple[float, float] | None,
    radius_m: float | None,
) -> tuple[str, ...]:
    """Say how much of the ground asked for has no heights, and why."""
    notes: tuple[str, ...] = ()
    if around is not None and radius_m is not None:
        outside = 1.0 - grid.covered
        if outside > _SHARE_WORTH_A_NOTE:
            notes += (
                f"Warning: {100 * outside:.1f} % of the ground within "
                f"{radius_m / 1000:.1f} km lies outside the elevation files",
            )
    void = _void_share(lattices, grid, mosaic.elevation_m)
    if void > _SHARE_WORTH_A_NOTE:
        notes += (
            f"Warning: {100 * void:.1f} % of the ground that the elevation files cover "
            "has no heights (large holes); it hides nothing",
        )
    return notes


def _void_share(
    lattices: Sequence[Lattice], grid: Grid, elevation_m: NDArray[np.float32]
) -> float:
    """Return the share of covered ground without heights, over an even sample."""
    stride = max(1, max(grid.rows, grid.columns) // _VOID_SAMPLES)
    sampled = elevation_m[::stride, ::stride]
    north_m, east_m = np.meshgrid(
        grid.south_m + np.arange(sampled.shape[0]) * stride * grid.cell_m,
        grid.west_m + np.arange(sampled.shape[1]) * stride * grid.cell_m,
        indexing="ij",
    )
    lon, lat = grid.frame.to_lonlat(east_m, north_m)
    covered = np.zeros(sampled.shape, dtype=np.bool_)
    for lattice in lattices:
        # The outer half of a rim pixel has no node beyond it.
        covered |= lattice.covers(*lattice.node_of(lon, lat), margin=0.5 * grid.factor)
    if not covered.any():
        return 0.0
    return float(np.isnan(sampled[covered]).mean())
