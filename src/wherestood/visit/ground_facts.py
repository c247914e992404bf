"""Tell how the ground lies about a spot, and how open its view is."""

from __future__ import annotations

import numpy as np

from wherestood.ground.mapping import Mapping
from wherestood.record.doubt import compass_words
from wherestood.terrain.ground import height_m
from wherestood.visit.clear_spots import OpenView, view_sentences

__all__ = ["ground_facts", "view_facts"]

_ROUND_THE_SPOT_M = 25.0


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
    if fall[steepest] > 30.0:
        notes.append(
            f"The ground falls steeply towards {compass_words(45.0 * steepest)}: mind "
            "the edge."
        )
    if terrain.water is not None:
        column = np.rint((east - terrain.west_m) / terrain.cell_m).astype(int)
        row = np.rint((north - terrain.south_m) / terrain.cell_m).astype(int)
        rows, columns = terrain.water.shape
        wet = terrain.water[row.clip(0, rows - 1), column.clip(0, columns - 1)]
        if wet.any():
            notes.append("Water lies close by: mind tides and floods.")
    return facts
