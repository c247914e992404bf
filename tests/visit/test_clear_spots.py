"""Test that open spots are found where something before the spot blocks the view."""

from __future__ import annotations

import numpy as np
import pytest

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


def fine(height) -> HorizonModel:
    """Return a model of tops in cells of 2 m, whose height is a function."""
    along = (np.arange(401) - 200) * 2.0
    heights = height(*np.meshgrid(along, along)).astype(np.float32)
    frame = Frame.local(11.0, 47.0)
    return HorizonModel.of(Terrain(heights, -400.0, -400.0, 2.0, frame, "top", 2.0))


def test_a_spot_that_is_built_over_is_not_open_from_its_roof():
    """A house of 7 m, 16 by 12 m, on a slope; the camera stood where it stands now."""

    def town(east, north):
        house = (np.abs(east) < 8.0) & (np.abs(north) < 6.0)
        return 0.05 * north + 7.0 * house

    view = open_view(fine(town), (1.0, -1.0), EDGES_DEG)
    assert view.covered_m == pytest.approx(7.0, abs=0.5)
    assert view.share < 0.2
    assert view.spots[0].away_m <= 20.0
    words = view_sentences(view, "top")
    assert "something stands 7 m high on the spot itself" in words[0]
    assert "of it the view is open" in words[1]


def test_a_hilltop_and_a_street_are_not_built_over():
    def hill(east, north):
        return 60.0 * np.exp(-(east**2 + north**2) / 60.0**2)

    view = open_view(fine(hill), (0.0, 0.0), EDGES_DEG)
    assert (view.covered_m, view.share) == (0.0, 1.0)

    def street(east, north):
        return 8.0 * (np.abs(east) > 5.0) + 0.0 * north

    assert open_view(fine(street), (0.0, 0.0), EDGES_DEG).covered_m == 0.0
