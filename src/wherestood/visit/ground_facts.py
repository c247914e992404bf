"""Tell how the ground lies about a spot, and how open its view is."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.ground.mapping import Mapping
from wherestood.record.doubt import compass_words, way_in_words
from wherestood.terrain.ground import height_m
from wherestood.terrain.model import Terrain
from wherestood.visit.clear_spots import OpenView, view_sentences

__all__ = ["ground_facts", "view_facts"]

Array = NDArray[np.float64]
_ROUND_THE_SPOT_M, _WATER_WITHIN_M = 25.0, 50.0
#: A drop-off falls this steeply over a cell, and by so much at least: what nobody walks
#: down backwards; our own bounds [rad, m].
_STEEP_RAD, _DROP_M = np.radians(35.0), 1.5
#: Looked for along so many ways, no closer together than this [m].
_WAYS, _LEAST_STEP_M = 24, 0.5


def view_facts(
    mapping: Mapping, view: OpenView | None, notes: list[str]
) -> list[tuple[str, str]]:
    """Return how open the view is, and where near by it is, if not there.

    Parameters
    ----------
    mapping : Mapping
        Its terrain.
    view : OpenView or None
        From the spot.
    notes : list of str
        Sentences are added to it.
    """
    if view is None:
        return []
    first, *rest = view_sentences(view, mapping.ground.model.terrain.surface)
    notes += rest
    return [("View from there", first.rstrip("."))]


def ground_facts(
    mapping: Mapping, at_m: tuple[float, float], notes: list[str]
) -> list[tuple[str, str]]:
    """Return slope and what falls away about the spot, as the terrain has it.

    Parameters
    ----------
    mapping : Mapping
        Its terrain.
    at_m : (east, north)
        The spot [m].
    notes : list of str
        What to mind is added to it.
    """
    terrain = mapping.ground.model.terrain
    reach = max(_ROUND_THE_SPOT_M, terrain.cell_m)
    angle = np.radians(np.arange(0.0, 360.0, 45.0))
    east = at_m[0] + reach * np.sin(angle)
    north = at_m[1] + reach * np.cos(angle)
    around = height_m(terrain, east, north).astype(np.float64)
    middle = float(height_m(terrain, np.array([at_m[0]]), np.array([at_m[1]]))[0])
    if not (np.isfinite(around).all() and np.isfinite(middle)):
        notes.append("The ground about the spot is not known to the elevation model.")
        return []
    fall = np.degrees(np.arctan((middle - around) / reach))
    steepest = int(fall.argmax())
    facts = [
        (
            "Ground there",
            f"falls by {max(fall[steepest], 0.0):.0f}° towards "
            f"{compass_words(45.0 * steepest)}, within {reach:.0f} m",
        )
    ]
    notes += _drop_off(terrain, at_m, reach)
    notes += _water(terrain, at_m)
    return facts


def _drop_off(terrain: Terrain, at_m: tuple[float, float], reach_m: float) -> list[str]:
    """Return in a sentence where the ground falls away most, if it does."""
    step = max(terrain.cell_m, _LEAST_STEP_M)
    way = 2.0 * np.pi * np.arange(_WAYS) / _WAYS
    along = np.arange(0.0, reach_m + 1.01 * step, step)
    ground = height_m(
        terrain,
        at_m[0] + along * np.sin(way)[:, None],
        at_m[1] + along * np.cos(way)[:, None],
    ).astype(np.float64)
    lost = np.nan_to_num(ground[:, :-1] - ground[:, 1:])
    steep = lost > step * np.tan(_STEEP_RAD)
    # A drop goes on for as long as it is steep.
    total = np.zeros(_WAYS)
    here = np.zeros(_WAYS)
    begins, begin = np.zeros(_WAYS), np.zeros(_WAYS)
    for k in range(lost.shape[1]):
        begin = np.where(here == 0.0, along[k], begin)
        here = np.where(steep[:, k], here + lost[:, k], 0.0)
        begins = np.where(here > total, begin, begins)
        total = np.maximum(total, here)
    if total.max() < _DROP_M:
        return []
    # Of those that are about as deep the nearest, and the middle of a run of them.
    deep = np.flatnonzero(total > 0.8 * total.max())
    near = deep[begins[deep] <= begins[deep].min() + 0.5 * step]
    middle = np.angle(np.exp(1j * way[near]).sum())
    off = np.abs(np.angle(np.exp(1j * (way[near] - middle))))
    worst = int(near[off.argmin()])
    where = compass_words(float(np.degrees(way[worst])))
    return [
        f"By the elevation model the ground drops by {total[worst]:.0f} m towards "
        f"{where}, from {begins[worst]:.0f} m off: mind the edge. What is smaller than "
        f"its cells of {step:.2g} m it does not know."
    ]


def _water(terrain: Terrain, at_m: tuple[float, float]) -> list[str]:
    """Return in a sentence how near water lies, if it does."""
    if terrain.water is None:
        return []
    reach = max(_WATER_WITHIN_M, 1.5 * terrain.cell_m)
    rows, columns = terrain.water.shape
    near: list[tuple[Array, int]] = []
    for at, first, count in (
        (at_m[1], terrain.south_m, rows), (at_m[0], terrain.west_m, columns),
    ):  # fmt: skip
        node = (at - first) / terrain.cell_m
        low = max(0, int(np.ceil(node - reach / terrain.cell_m)))
        high = min(count, int(np.floor(node + reach / terrain.cell_m)) + 1)
        near.append(((np.arange(low, high) - node) * terrain.cell_m, low))
    (north, row), (east, column) = near
    wet = terrain.water[row : row + north.size, column : column + east.size]
    away = np.where(wet, np.hypot(north[:, None], east[None, :]), np.inf)
    if not away.size or away.min() > reach:
        return []
    j, i = np.unravel_index(int(away.argmin()), away.shape)
    way = way_in_words(float(east[i]), float(north[j]))
    return [
        f"Water lies {away[j, i]:.0f} m {way} of the spot by the elevation model: mind "
        "tides and floods."
    ]
