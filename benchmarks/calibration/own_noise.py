"""Give an invented plate a skyline that errs as the program believes skylines err.

The true skyline and its distances come from ray casts on the renderer's mesh of the
very ground that the fitter is given. The field of cover and model error is drawn from
a dense covariance over the ground steps along the silhouette, where the program runs a
filter; what it takes from the program are the sizes (`wherestood.evidence.noise`,
`wherestood.camera.priors`), since those are what is tried.

Symbols
-------
T : tangent of the skyline's elevation; d : distance of the silhouette [m]; h : what a
metre of the field is worth there, 1/d, more on slopes, where a ridge out sideways shows
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from wherestood.camera.priors import CameraPrior, camera_prior
from wherestood.demo.canopy import ForestSettings
from wherestood.demo.degrade import ModelSettings
from wherestood.demo.invented import InventedCase
from wherestood.demo.settings import InventionSettings, TraceSettings
from wherestood.evidence.noise import SkylineNoise
from wherestood.evidence.profile import GROUND_SD_M, SHIFT_CELLS
from wherestood.evidence.samples import BINS, LEAST_FILLED, LEAST_SD_PX
from wherestood.evidence.whiten import FOREGROUND_BEND, LEVEL
from wherestood.fix.problem import COVER_TREND_SD_M, REFRACTION_SD
from wherestood.terrain.horizon import nearest_start_m

#: Mesh cells to a cell of the model: its nodes are nodes of the mesh.
MESH_PER_CELL = 3


def without_noise(
    drawn: InventionSettings, cell_m: float, refraction: float
) -> InventionSettings:
    """Return settings of a world that its model shows as it is.

    Parameters
    ----------
    drawn : InventionSettings
        Of which view, plate, gaps and kind of surface stay.
    cell_m : float
        Cell of ground and model [m].
    refraction : float
        Refraction coefficient of the world, no unit.
    """
    return replace(
        drawn,
        world=replace(
            drawn.world,
            mesh_cell_m=cell_m / MESH_PER_CELL,
            most_nodes=10_000_000,
            detail_m=0.0,
            refraction=refraction,
            forest=ForestSettings(cover=0.0),
        ),
        model=ModelSettings(
            cell_m=cell_m,
            error_sd_m=0.0,
            white_sd_m=0.0,
            smoothing_cells=0.0,
            surface=drawn.model.surface,
        ),
        # What is nearer than the horizon begins is a gap in the evidence.
        trace=TraceSettings(
            white_px=0.0,
            smooth_px=0.0,
            gaps=drawn.trace.gaps,
            greatest_gap=drawn.trace.greatest_gap,
            gap_nearer_m=nearest_start_m(cell_m),
        ),
    )


def drawn_refraction(rng: np.random.Generator, usual: float = 0.13) -> float:
    """Draw a refraction coefficient as the program believes them to be, no unit."""
    return float(rng.normal(usual, REFRACTION_SD))


@dataclass(frozen=True)
class Strips:
    """Hold a true skyline in the strips over which the program averages it.

    Attributes
    ----------
    column : (columns,) int array
        Strip of each column of the plate that shows a skyline.
    tangent, distance_m, slope, bearing_rad : (strips,) float64 array
        Mean tangent and distance [m], slope, and bearing from the middle.
    slope_px : (strips,) float64 array
        Slope on the plate, no unit.
    across : (strips,) float64 array
        From -1 at the plate's left edge to 1 at its right.
    """

    column: np.ndarray
    tangent: np.ndarray
    distance_m: np.ndarray
    slope: np.ndarray
    bearing_rad: np.ndarray
    slope_px: np.ndarray
    across: np.ndarray


def with_own_noise(
    case: InventedCase, rng: np.random.Generator
) -> tuple[InventedCase, int]:
    """Return a plate without noise with the program's own, and the level drawn.

    Raises
    ------
    LookupError
        If too little of the skyline is left in the frame.
    """
    camera = case.camera
    noise = SkylineNoise.usual(case.model.surface)
    prior = camera_prior(
        camera.width_px, camera.height_px, trimmed=case.facts.is_trimmed
    )
    x_px = case.x_px
    seen_px = case.true_y_px[np.floor(x_px).astype(int)]
    bearing, tangent = _directions(case, x_px, seen_px)
    strips = _strips(case, x_px, seen_px, bearing, tangent)
    weight = np.exp(noise.level_log_weight)
    level = int(rng.choice(len(noise.levels), p=weight / weight.sum()))
    lifted = _lifted(strips, noise, level, case, rng)
    rays = np.column_stack(
        (np.sin(bearing), np.cos(bearing), tangent + lifted[strips.column])
    )
    y_px = camera.project(rays)[1]
    y_px = _warped(y_px, x_px, case, prior, rng)
    factor = noise.levels[level][LEVEL.index("tracing_factor")]
    slip_px = LEAST_SD_PX * factor * np.hypot(1.0, strips.slope_px)
    y_px = y_px + (slip_px * rng.normal(size=slip_px.size))[strips.column]
    kept = np.isfinite(y_px) & (y_px > 0.0) & (y_px < camera.height_px)
    if kept.mean() < LEAST_FILLED:
        raise LookupError("the skyline left the frame")
    # A shift of the whole model, which no search can know.
    shift_m = rng.normal(0.0, SHIFT_CELLS * case.cell_m, 2)
    moved = replace(
        case,
        x_px=x_px[kept],
        y_px=y_px[kept],
        west_m=case.west_m + shift_m[0],
        south_m=case.south_m + shift_m[1],
    )
    return moved, level


def _directions(
    case: InventedCase, x_px: np.ndarray, y_px: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return bearing [rad] and tangent of pixels, as the true camera sees them."""
    rays = case.camera.rays(x_px, y_px)
    flat = np.hypot(rays[:, 0], rays[:, 1])
    return np.arctan2(rays[:, 0], rays[:, 1]), rays[:, 2] / flat


def _strips(
    case: InventedCase,
    x_px: np.ndarray,
    y_px: np.ndarray,
    bearing: np.ndarray,
    tangent: np.ndarray,
) -> Strips:
    """Average a true skyline over the strips of the plate that show it."""
    width = case.camera.width_px
    which = np.minimum((x_px / width * BINS).astype(int), BINS - 1)
    shown, column = np.unique(which, return_inverse=True)
    count = np.bincount(column)
    middle = np.radians(case.camera.bearing_deg)
    turn = (bearing - middle + np.pi) % (2.0 * np.pi) - np.pi

    def mean(values: np.ndarray) -> np.ndarray:
        return np.bincount(column, values) / count

    inverse = mean(1.0 / case.distance_m[np.floor(x_px).astype(int)])
    turns, tangents = mean(turn), mean(tangent)
    few = shown.size < 3
    slope = np.zeros(shown.size) if few else np.gradient(tangents, turns)
    slope_px = np.zeros(shown.size) if few else np.gradient(mean(y_px), mean(x_px))
    across = 2.0 * mean(x_px) / width - 1.0
    return Strips(column, tangents, 1.0 / inverse, slope, turns, slope_px, across)


def _lifted(
    strips: Strips,
    noise: SkylineNoise,
    level: int,
    case: InventedCase,
    rng: np.random.Generator,
) -> np.ndarray:
    """Return by how much each strip's tangent is off."""
    sizes = dict(zip(LEVEL, noise.levels[level], strict=True))
    per_m = 1.0 / strips.distance_m
    sideways = sizes["lateral_m"] / sizes["long_sd_m"] * strips.slope
    h = per_m * np.hypot(1.0, sideways)
    count = strips.tangent.size
    field = _field(strips, sizes, rng)
    field += sizes["white_m"] * rng.normal(size=count)
    # The ground under the station errs too, and acts as cover does.
    cover_sd_m = math.hypot(noise.cover_sd_m, GROUND_SD_M)
    cover_m = rng.normal(noise.cover_mean_m, cover_sd_m)
    slant_m, bend_m = rng.normal(0.0, COVER_TREND_SD_M, 2)
    diagonal = math.hypot(case.camera.width_px, case.camera.height_px)
    span = 2.0 * strips.across * case.camera.width_px / diagonal
    cover = (cover_m + slant_m * span + bend_m * (span**2 - 0.8)) * per_m
    return _with_foreground(strips, noise, np.asarray(cover + h * field), rng)


def _with_foreground(
    strips: Strips,
    noise: SkylineNoise,
    off: np.ndarray,
    rng: np.random.Generator,
) -> np.ndarray:
    """Return how far each strip is off with runs of foreground before the hills.

    A run begins at the program's odds and goes on as often as it ends; it goes straight
    on but for bends of Student's law with two degrees of freedom, above the hills only.
    """
    odds = math.exp(noise.foreground_log_odds)
    tangent = strips.tangent + off
    turn = np.diff(strips.bearing_rad, prepend=strips.bearing_rad[0])
    inside = False
    for n in range(2, tangent.size):
        inside = bool(rng.random() < (0.5 if inside else odds / (1.0 + odds)))
        if inside:
            ahead = turn[n] / turn[n - 1]
            on = tangent[n - 1] + ahead * (tangent[n - 1] - tangent[n - 2])
            on += FOREGROUND_BEND * turn[n] * rng.standard_t(2.0)
            tangent[n] = max(tangent[n], on)
    return np.asarray(tangent - strips.tangent)


def _field(
    strips: Strips,
    sizes: dict[str, float],
    rng: np.random.Generator,
) -> np.ndarray:
    """Draw the field of cover and model error [m]."""
    turn = np.diff(strips.bearing_rad)
    middling = (strips.distance_m[1:] + strips.distance_m[:-1]) / 2.0
    step = np.hypot(middling * turn, np.diff(strips.distance_m))
    along = np.concatenate(([0.0], np.cumsum(step)))
    apart = np.abs(along[:, None] - along[None, :])
    a = math.sqrt(3.0) * apart / sizes["long_length_m"]
    covariance = sizes["long_sd_m"] ** 2 * (1.0 + a) * np.exp(-a)
    covariance += sizes["short_sd_m"] ** 2 * np.exp(-apart / sizes["short_length_m"])
    jitter = 1e-6 * np.eye(along.size)
    return np.asarray(
        np.linalg.cholesky(covariance + jitter) @ rng.normal(size=along.size)
    )


def _warped(
    y_px: np.ndarray,
    x_px: np.ndarray,
    case: InventedCase,
    prior: CameraPrior,
    rng: np.random.Generator,
) -> np.ndarray:
    """Stretch the plate upright and bend it, as far as prints are believed to."""
    camera = case.camera
    diagonal = math.hypot(camera.width_px, camera.height_px)
    across = 2.0 * x_px / camera.width_px - 1.0
    two, three = rng.normal(0.0, prior.warp_sds)
    scale = 1.0 + rng.normal(0.0, prior.vertical_scale_sd)
    bent = two * (1.5 * across**2 - 0.5) + three * (2.5 * across**3 - 1.5 * across)
    up = (camera.height_px / 2.0 - y_px) / diagonal
    return np.asarray(camera.height_px / 2.0 - diagonal * (up - bent) / scale)
