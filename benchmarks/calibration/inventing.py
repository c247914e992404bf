"""Invent the worlds and plates of each part of the study, each from its own seed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from calibration.own_noise import drawn_refraction, with_own_noise, without_noise
from calibration.plan import Part
from study_plates import (
    MOST_ON_THE_EDGE,
    ground_of,
    share_on_the_edge,
    well_inside,
)
from wherestood.camera.priors import REVERSED
from wherestood.demo.canopy import ForestSettings
from wherestood.demo.ground import GroundGrid
from wherestood.demo.invented import InventedCase, invent_case_in
from wherestood.demo.settings import InventionSettings, draw_settings
from wherestood.demo.world import World, build_world

TRIES = 6
#: Hills this many times as low give skylines that are all but level.
FLATTENED = 0.12
#: Greatest scatter of a flat skyline about a straight line [deg].
FLAT_DEG = 0.1


@dataclass(frozen=True)
class Invented:
    """Hold an invented plate and what only its inventor knows.

    Attributes
    ----------
    world, case : World, InventedCase
    level : int or None
        Level of the program's noise it was drawn with.
    process : str or None
        How it was made, where that is known.
    """

    world: World
    case: InventedCase
    level: int | None = None
    process: str | None = None


def world_of(part: Part, number: int) -> World:
    """Build the world that some plates of a part share."""
    rng = np.random.default_rng((part.seed, number))
    ground = ground_of(number)
    if part.name == "flat_skyline":
        low_m = float(ground.elevation_m.min())
        heights = low_m + FLATTENED * (ground.elevation_m - low_m)
        ground = replace(ground, elevation_m=heights.astype(np.float32))
    drawn = _change(part, ground, draw_settings(rng, cell_m=ground.cell_m), rng)
    return build_world(ground, rng, drawn.world)


def invent(part: Part, world: World, number: int, index: int) -> Invented:
    """Invent one plate, the same whatever was invented before it.

    Raises
    ------
    LookupError
        If the world offers no such plate.
    """
    rng = np.random.default_rng((part.seed, number, index))
    ground = world.ground
    for _ in range(TRIES):
        drawn = draw_settings(rng, cell_m=ground.cell_m)
        settings = _change(part, ground, drawn, rng)
        settings = well_inside(ground, replace(settings, world=world.settings))
        try:
            case = invent_case_in(world, rng, settings)
            if not _is_wanted(part, case):
                continue
            return _FINISHED.get(part.name, _as_it_is)(world, case, rng)
        except LookupError:
            continue
    raise LookupError(f"world {number} offers no plate {index} of {part.name}")


def relief_deg(case: InventedCase) -> float:
    """Return the scatter of the true skyline about a straight line [deg]."""
    seen = np.flatnonzero(np.isfinite(case.true_y_px))
    y = case.true_y_px[seen]
    off_px = y - np.polyval(np.polyfit(seen, y, 1), seen)
    return float(np.degrees(np.std(off_px) / case.camera.c_px))


def _is_wanted(part: Part, case: InventedCase) -> bool:
    if share_on_the_edge(case) > MOST_ON_THE_EDGE:
        return False
    return part.name != "flat_skyline" or relief_deg(case) <= FLAT_DEG


def _change(
    part: Part,
    ground: GroundGrid,
    drawn: InventionSettings,
    rng: np.random.Generator,
) -> InventionSettings:
    """Return the settings of a part: the usual ones, or changed."""
    if part.name == "own_noise":
        return without_noise(drawn, ground.cell_m, drawn_refraction(rng))
    if part.name == "more_noise":
        return _with_more_noise(drawn, rng)
    settings = replace(drawn, trace=replace(drawn.trace, gross_runs=0))
    if part.name == "flat_skyline":
        view = replace(settings.view, least_relief_deg=0.0)
        bare = replace(settings.world, forest=ForestSettings(cover=0.0))
        settings = replace(settings, view=view, world=bare)
    return settings


def _with_more_noise(
    drawn: InventionSettings, rng: np.random.Generator
) -> InventionSettings:
    """Make trees, model, refraction and tracing worse than the program assumes."""
    height_m = rng.uniform(18.0, 30.0)
    forest = ForestSettings(
        cover=float(rng.uniform(0.3, 0.8)),
        patch_m=float(rng.uniform(150.0, 600.0)),
        height_m=float(height_m),
        height_sd_m=float(rng.uniform(0.2, 0.4) * height_m),
        stand_m=float(rng.uniform(100.0, 400.0)),
        rough_sd_m=float(rng.uniform(2.0, 4.0)),
        clearings_per_km2=float(rng.uniform(3.0, 9.0)),
    )
    return replace(
        drawn,
        world=replace(
            drawn.world, refraction=float(rng.normal(0.13, 0.1)), forest=forest
        ),
        model=replace(
            drawn.model,
            error_sd_m=float(rng.uniform(5.0, 10.0)),
            white_sd_m=float(rng.uniform(0.5, 2.0)),
            smoothing_cells=float(rng.uniform(0.6, 1.0)),
            shift_east_cells=float(rng.uniform(-0.6, 0.6)),
            shift_north_cells=float(rng.uniform(-0.6, 0.6)),
        ),
        trace=replace(
            drawn.trace,
            white_px=float(rng.uniform(1.0, 2.5)),
            smooth_px=float(rng.uniform(1.5, 3.5)),
            gaps=int(rng.integers(1, 4)),
            gross_runs=1,
        ),
    )


def _as_it_is(world: World, case: InventedCase, _: np.random.Generator) -> Invented:
    return Invented(world, case)


def _own_noise(world: World, case: InventedCase, rng: np.random.Generator) -> Invented:
    noisy, level = with_own_noise(case, rng)
    return Invented(world, noisy, level)


def _either_way_round(
    world: World, case: InventedCase, rng: np.random.Generator
) -> Invented:
    """Scan a plate left for right as often as its process has it."""
    process = str(rng.choice(["glass negative", "direct positive"]))
    if rng.random() >= REVERSED[process]:
        return Invented(world, case, process=process)
    mirrored = replace(
        case,
        camera=replace(case.camera, reversed=True),
        x_px=case.camera.width_px - case.x_px[::-1],
        y_px=case.y_px[::-1],
    )
    return Invented(world, mirrored, process=process)


_FINISHED: dict[str, Callable[[World, InventedCase, np.random.Generator], Invented]] = {
    "own_noise": _own_noise,
    "reversed_plates": _either_way_round,
}
