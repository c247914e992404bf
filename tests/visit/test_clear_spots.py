"""Test that open spots are found where something before the spot blocks the view."""

from __future__ import annotations

import numpy as np

from wherestood.earth.frame import Frame
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain
from wherestood.visit.clear_spots import open_view, view_sentences

CELL_M, COUNT = 5.0, 241
EDGES_DEG = (340.0, 20.0)


def land(with_grove: bool) -> HorizonModel:
    """Return a plain, hills 500 m north, and a grove of 15 m before the middle."""
    along = (np.arange(COUNT) - COUNT // 2) * CELL_M
    east, north = np.meshgrid(along, along)
    height = 40.0 * np.exp(-(((north - 550.0) / 60.0) ** 2))
    if with_grove:
        height[(np.abs(east) < 40.0) & (north > 30.0) & (north < 60.0)] += 15.0
    first = float(along[0])
    frame = Frame.local(11.0, 47.0)
    return HorizonModel.of(
        Terrain(height.astype(np.float32), first, first, CELL_M, frame, "top", CELL_M)
    )


def test_a_view_over_a_plain_is_open():
    view = open_view(land(with_grove=False), (0.0, 0.0), EDGES_DEG)
    assert view.share == 1.0
    assert view.spots == ()
    assert len(view_sentences(view, "top")) == 1


def test_beside_a_grove_the_view_opens():
    view = open_view(land(with_grove=True), (0.0, 0.0), EDGES_DEG)
    assert view.share < 0.2
    nearest = view.spots[0]
    # The grove is 80 m wide, from 30 to 60 m north: one goes past it, not on its top.
    assert nearest.away_m >= 75.0
    assert nearest.share >= 0.9
    words = view_sentences(view, "top")
    assert "tree tops and roofs" in words[0]
    assert "shifts by up to" in words[1]
    assert open_view(land(with_grove=True), (9000.0, 0.0), EDGES_DEG) is None
