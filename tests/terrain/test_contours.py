"""Contours lie where the ground has their height."""

from __future__ import annotations

import numpy as np
import pytest

from wherestood.earth.frame import Frame
from wherestood.terrain.contours import contours
from wherestood.terrain.model import Terrain

CELL_M = 10.0
#: Lines are drawn a millimetre low, on ground that rises by 1 in 5.
ONE_CENTIMETRE = 0.01


def land(heights_m: np.ndarray) -> Terrain:
    return Terrain(
        heights_m.astype(np.float32), 0.0, 0.0, CELL_M, Frame.local(8.5, 46.1)
    )


def test_line_runs_where_a_slope_has_its_height() -> None:
    east = np.tile(CELL_M * np.arange(30.0), (20, 1))
    drawn = contours(land(east / 5.0), (0.0, 0.0, 290.0, 190.0), 20.0, 0.1)
    at_20 = next(line for line in drawn if line.height_m == 20.0)
    assert at_20.points_m[:, 0] == pytest.approx(100.0, abs=ONE_CENTIMETRE)


def test_no_line_runs_along_the_shore_of_a_lake_at_its_very_height() -> None:
    north, east = np.indices((40, 40)) * CELL_M
    away = np.hypot(east - 200.0, north - 200.0)
    bowl = 100.0 + np.maximum(away - 80.0, 0.0) / 2.0  # a round lake at 100 m
    drawn = contours(land(bowl), (0.0, 0.0, 390.0, 390.0), 10.0, 0.1)
    assert {line.height_m for line in drawn} >= {110.0, 120.0}
    assert 100.0 not in {line.height_m for line in drawn}
