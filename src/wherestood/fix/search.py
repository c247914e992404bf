"""Search the ground for every place that may be the station."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter
from shapely.geometry import MultiPolygon, Polygon

from wherestood.errors import AreaError
from wherestood.evidence.stations import Stations
from wherestood.evidence.unknowns import COUNT
from wherestood.fix.cells import LIGHT, NOTHING_FITS, Cells, score_cells
from wherestood.fix.first_cameras import SCREENED_BEARINGS
from wherestood.fix.kept_profiles import KeptProfiles
from wherestood.fix.problem import Problem
from wherestood.fix.shared_cameras import share_cameras
from wherestood.progress import Progress

__all__ = ["first_cells", "search", "share_inside", "starts_from"]

Array = NDArray[np.float64]

#: Side of the first cells [m]: at twice this the true cell was often lost.
FIRST_SIDE_M = 100.0
#: No fewer first cells than this.
FEWEST_CELLS = 400
#: Cells this far below the best in log score are let go.
KEEP_WITHIN = 7.0
#: The same from the third splitting on, when cameras are settled.
KEEP_LATER = 5.0
#: A first look knows a camera's log density to some ten either way.
KEEP_AT_FIRST = 10.0
_KEEP = (KEEP_AT_FIRST, KEEP_WITHIN, KEEP_LATER)
#: Cameras this far below the best need no close look.
HOPELESS = 14.0
#: Enough cells hold 95% of the probability: finer ones would tell no more ...
ENOUGH_CELLS = 400
#: ... but larger ones than this do not show yet how well a skyline may fit [m].
ENOUGH_SIDE_M = 25.0
SMALLEST_SIDE_M = 4.0
#: The ring round the ground searched has half its area again.
RING_SHARE = 0.5
#: No more than this are split, at each splitting; the others stay as they are, with
#: what probability they hold.
MOST_SPLIT = (2500, 1500, 1000)
#: Less of a cell than this is rounding of an outline along its side.
_NO_SHARE = 1e-6


def first_cells(
    shape: Polygon | MultiPolygon,
) -> tuple[Array, Array, Array, float]:
    """Lay the first cells over the ground searched and a ring round it.

    Returns
    -------
    east_m, north_m : (n,) float64 array
        Centres [m].
    share : (n,) float64 array
        How much of each cell lies in the ground searched.
    side_m : float
    """
    side = min(FIRST_SIDE_M, math.sqrt(shape.area / FEWEST_CELLS))
    side = max(side, SMALLEST_SIDE_M)
    # A ring of the wanted area is about area / perimeter wide.
    width = RING_SHARE * shape.area / (shape.length * 1.12)
    outer = shape.buffer(max(width, 2.0 * side))
    west, south, east, north = outer.bounds
    grid = np.meshgrid(
        np.arange(west + side / 2, east, side), np.arange(south + side / 2, north, side)
    )
    east_m, north_m = grid[0].ravel(), grid[1].ravel()
    share = share_inside(shape, east_m, north_m, side)
    # Ground narrower than a cell may hold no centre: what touches it takes part.
    within = shapely.contains_xy(outer, east_m, north_m) | (share > 0.0)
    return east_m[within], north_m[within], share[within], side


def share_inside(
    shape: Polygon | MultiPolygon, east_m: Array, north_m: Array, side_m: float
) -> Array:
    """Return how much of each cell lies in a shape, 0 to 1."""
    half_m = side_m / 2.0
    cells = shapely.box(
        east_m - half_m, north_m - half_m, east_m + half_m, north_m + half_m
    )
    shapely.prepare(shape)
    share: Array = shapely.contains(shape, cells).astype(np.float64)
    cut = shapely.intersects(shape, cells) & (share == 0.0)
    parts = shapely.intersection(shape, cells[cut])
    share[cut] = np.minimum(shapely.area(parts) / side_m**2, 1.0)
    share[share < _NO_SHARE] = 0.0
    return share


def search(problem: Problem, progress: Progress) -> Cells:
    """Find every cell that may hold the station, splitting the likely ones.

    Returns
    -------
    Cells
        Of several sizes, without overlap; they cover all the ground whose
        probability matters.

    Raises
    ------
    AreaError
        If no ground in the area is known.
    """
    shape = problem.area.in_frame(problem.terrain.frame)
    east, north, share, side = first_cells(shape)
    worth = _worth_a_look(problem, east, north, side)
    east, north, share = east[worth], north[worth], share[worth]
    progress.stage("Searching the ground", len(east))
    # Half the bearings cost half the time, and tell where to look closer as well.
    bearings = min(SCREENED_BEARINGS, problem.maker.bearings)
    coarse = replace(problem, maker=replace(problem.maker, bearings=bearings))
    kept = KeptProfiles()
    finest = score_cells(
        coarse, east, north, side, share, progress, kept=kept, hasty=True
    )
    best = finest.log_density.max(initial=LIGHT)
    finest = share_cameras(
        coarse, finest, progress, floor=best - KEEP_AT_FIRST, closely=False, kept=kept
    )
    if not finest.inside.any():
        raise AreaError(
            "No ground inside the area searched has a known height.",
            "Give terrain that covers it, or another area.",
        )
    # What is settled stays as it is until the end: cells are large, and many.
    settled: list[Cells] = []
    # A circle of near enough is not told by cells larger than itself.
    smallest = min(SMALLEST_SIDE_M, problem.settings.near_enough_m)
    while True:
        every = [*settled, finest]
        best = max(
            cells.log_density[cells.inside].max(initial=LIGHT) for cells in every
        )
        splitting = min(len(settled), len(_KEEP) - 1)
        chosen = _worth_splitting(
            finest, side, best - _KEEP[splitting], MOST_SPLIT[splitting]
        )
        # Halved from the root of an area, a side is seldom a round number.
        fine = side < 1.01 * ENOUGH_SIDE_M or not problem.has_skyline
        enough = fine and _count_holding(every, 0.95) > ENOUGH_CELLS
        if enough or not chosen.any() or side / 2 < smallest:
            if not settled:
                # A first look is not to be trusted with an answer.
                progress.stage("Looking closer", len(finest.east_m))
                finest = score_cells(
                    problem,
                    finest.east_m,
                    finest.north_m,
                    side,
                    finest.share,
                    progress,
                    starts_from(finest),
                    floor=best - HOPELESS,
                )
                every = [finest]
            return every[0].joined(*every[1:])
        parents = finest.take(chosen)
        settled.append(finest.take(~chosen))
        del finest, every
        side /= 2
        progress.stage(f"Looking closer, {side:.0f} m", 4 * len(parents.east_m))
        kept = KeptProfiles()
        finest = _children(problem, parents, side, best - HOPELESS, progress, kept)
        finest = share_cameras(
            problem, finest, progress, floor=best - KEEP_WITHIN, kept=kept
        )


def _worth_a_look(
    problem: Problem, east: Array, north: Array, side: float
) -> NDArray[np.bool_]:
    """Say which first cells the evidence that needs no camera leaves standing."""
    worth = np.ones(east.size, dtype=bool)
    if all(plate.free is None for plate in problem.plates):
        return worth
    ground, sd = problem.maker.heights(east, north)
    known = np.flatnonzero(np.isfinite(ground))
    if not known.size:
        return worth
    stations = Stations(
        east[known],
        north[known],
        ground[known] + problem.maker.lens_height_m,
        radius_m=(1.0 - problem.terrain.refraction) / (2.0 * problem.curvature_per_m),
        refraction=problem.terrain.refraction,
        lens_sd_m=float(np.median(sd[known])),
        side_m=side,
    )
    said = np.maximum(problem.weigh_free(stations), NOTHING_FITS)
    worth[known] = said > said.max() - HOPELESS
    return worth


def _children(
    problem: Problem,
    parents: Cells,
    side: float,
    floor: float,
    progress: Progress,
    kept: KeptProfiles,
) -> Cells:
    step = np.array([[-0.5, -0.5], [0.5, -0.5], [-0.5, 0.5], [0.5, 0.5]]) * side
    east = (parents.east_m[:, None] + step[:, 0]).ravel()
    north = (parents.north_m[:, None] + step[:, 1]).ravel()
    starts = np.repeat(starts_from(parents), 4, axis=0)
    shape = problem.area.in_frame(problem.terrain.frame)
    share = share_inside(shape, east, north, side)
    return score_cells(
        problem, east, north, side, share, progress, starts, floor=floor, kept=kept
    )


def starts_from(parents: Cells) -> Array:
    """Return the parents' cameras as starting points, the hopeless left out.

    A camera far below the best anywhere is let go, but every cell keeps its own
    best: it is here because a neighbour is likely.
    """
    own = parents.mode_score.max(axis=(1, 2), keepdims=True)
    enough = np.minimum(own, parents.mode_score.max() - KEEP_AT_FIRST)
    starts = parents.starts(~(parents.mode_score >= enough))
    starts[..., COUNT - 2 :] = 0.0
    return starts


def _worth_splitting(
    finest: Cells, side: float, least: float, most: int
) -> NDArray[np.bool_]:
    """Mark cells of more than the least log density, and their neighbours.

    A true cell that scores badly often has a good neighbour. Of too many the best are
    taken, each as good as the best beside it.
    """
    density = finest.log_density
    if not density.size:
        return np.zeros(0, dtype=bool)
    # Counted from the first: a lattice half a cell off zero would be rounded to even.
    column = np.rint((finest.east_m - finest.east_m.min()) / side).astype(np.int64)
    row = np.rint((finest.north_m - finest.north_m.min()) / side).astype(np.int64)
    grid = np.full((row.max() + 1, column.max() + 1), -np.inf)
    grid[row, column] = density
    beside = maximum_filter(grid, size=3, mode="constant", cval=-np.inf)[row, column]
    chosen = beside > least
    if np.count_nonzero(chosen) > most:
        order = np.lexsort((density, beside))[::-1]
        chosen = np.zeros(density.size, dtype=bool)
        chosen[order[:most]] = True
    return np.asarray(chosen)


def _count_holding(every: list[Cells], share: float) -> int:
    """Return how many cells hold a share of the probability."""
    weight = np.concatenate([cells.log_weight[cells.inside] for cells in every])
    mass = np.exp(weight - weight.max())
    running = np.cumsum(np.sort(mass)[::-1])
    return int(np.searchsorted(running, share * running[-1])) + 1
