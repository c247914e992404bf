"""Check that good cameras spread from cell to cell, and bad ones do not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from wherestood.evidence.batch import SAME_BEARING_RAD
from wherestood.evidence.profile import Profiles
from wherestood.evidence.unknowns import COUNT
from wherestood.evidence.whiten import NO_FOREGROUND
from wherestood.fix import shared_cameras
from wherestood.fix.cells import Cells, score_cells
from wherestood.fix.first_cameras import MODES
from wherestood.fix.kept_profiles import KeptProfiles
from wherestood.fix.problem import Problem
from wherestood.fix.shared_cameras import PASSES, share_cameras
from wherestood.progress import SILENT

Array = NDArray[np.float64]

RIGHT_RAD = 1.0
SIDE_M = 20.0
#: Log density lost for each radian that a camera looks astray.
STEEP = 50.0
NO_FLOOR = -np.inf


def by_bearing(bearing: Array) -> Array:
    """Score a camera by how far it looks from the right way."""
    return -STEEP * np.abs(bearing - RIGHT_RAD)


def lattice(make_cells: Callable[..., Cells], across: int, bearing: Array) -> Cells:
    """Return a square of cells, each with one camera of the given bearing."""
    east, north = np.meshgrid(np.arange(across) * SIDE_M, np.arange(across) * SIDE_M)
    cells = make_cells(east.ravel(), north.ravel(), SIDE_M, by_bearing(bearing))
    cells.theta[:, 0, 0, 0] = bearing
    return cells


@pytest.fixture
def scored_by_bearing(
    monkeypatch: pytest.MonkeyPatch, make_cells: Callable[..., Cells]
) -> list[int]:
    """Score cameras by their bearing alone; return how many cells each pass took."""
    asked: list[int] = []

    def scored(
        _problem: Any, east: Array, north: Array, side: float, _share: Array,
        _progress: Any, starts: Array, **_more: Any,
    ) -> Cells:  # fmt: skip
        asked.append(east.size)
        cells = make_cells(east, north, side, by_bearing(starts[:, 0, 0, 0]))
        cells.theta[:] = starts
        return cells

    monkeypatch.setattr(shared_cameras, "score_cells", scored)
    return asked


def test_the_right_camera_spreads_from_the_one_cell_that_found_it(
    make_cells, scored_by_bearing
) -> None:
    across = 15
    bearing = np.full(across * across, 2.0)
    bearing[0] = RIGHT_RAD
    shared = share_cameras(
        None, lattice(make_cells, across, bearing), SILENT, floor=NO_FLOOR
    )
    assert shared.log_density == pytest.approx(0.0, abs=1e-9)
    assert len(scored_by_bearing) <= PASSES


def test_only_cells_beside_a_better_one_are_scored_again(
    make_cells, scored_by_bearing
) -> None:
    across = 15
    bearing = np.full(across * across, RIGHT_RAD)
    middle = across * across // 2
    bearing[middle] = 2.0
    share_cameras(None, lattice(make_cells, across, bearing), SILENT, floor=NO_FLOOR)
    assert scored_by_bearing == [1]


@pytest.mark.usefixtures("scored_by_bearing")
@pytest.mark.parametrize("kept_cells", [0, 3, 30, 81])
def test_cells_whose_horizons_found_no_room_are_scored_all_the_same(
    make_cells, kept_cells: int
) -> None:
    bearing = np.full(81, RIGHT_RAD + 1.0)
    bearing[-1] = RIGHT_RAD
    kept = KeptProfiles()
    nothing = np.zeros(kept_cells)
    kept.add(Profiles(np.ones((kept_cells, 4, 5)), nothing, nothing))
    found = share_cameras(
        None, lattice(make_cells, 9, bearing), SILENT, floor=NO_FLOOR, kept=kept
    )
    # The last cell's neighbours are all beyond the first thirty.
    assert (found.mode_score[-2:, 0].max(axis=1) == 0.0).all()


def test_nothing_below_the_floor_is_passed_on(make_cells, scored_by_bearing) -> None:
    bearing = np.array([1.5, 2.0, 2.5, 3.0])
    cells = lattice(make_cells, 2, bearing)
    share_cameras(None, cells, SILENT, floor=by_bearing(np.array(1.4)))
    assert scored_by_bearing == []


@pytest.mark.usefixtures("scored_by_bearing")
def test_a_better_climb_of_the_same_camera_counts_once(make_cells) -> None:
    near = RIGHT_RAD + 0.9 * SAME_BEARING_RAD
    bearing = np.array([RIGHT_RAD, near + 0.02, RIGHT_RAD, RIGHT_RAD])
    cells = lattice(make_cells, 2, bearing)
    # The second cell holds the same camera twice over, each a bad climb of it.
    cells.theta[1, 0, :2, 0] = near, RIGHT_RAD - 0.9 * SAME_BEARING_RAD
    cells.mode_score[1, 0, :2] = -3.0, -5.0
    shared = share_cameras(None, cells, SILENT, floor=NO_FLOOR)
    assert np.isfinite(shared.mode_score[1, 0]).sum() == 1
    assert shared.log_density[1] == pytest.approx(0.0, abs=1e-9)
    # What was handed in is as it was.
    assert cells.mode_score[1, 0, 0] == -3.0


@pytest.mark.usefixtures("scored_by_bearing")
def test_the_worst_of_other_cameras_makes_room(make_cells) -> None:
    cells = lattice(make_cells, 2, np.array([RIGHT_RAD, 4.0, 4.0, 4.0]))
    cells.theta[1, 0, :, 0] = 2.0, 3.0, 4.0, 5.0
    cells.mode_score[1, 0] = by_bearing(cells.theta[1, 0, :, 0])
    shared = share_cameras(None, cells, SILENT, floor=NO_FLOOR)
    assert sorted(shared.theta[1, 0, :, 0]) == [RIGHT_RAD, 2.0, 3.0, 4.0]


def test_real_cells_gain_and_none_loses(problem: Problem) -> None:
    # Foreground would excuse the cameras that are to be replaced.
    noise = replace(problem.noise, foreground_log_odds=NO_FOREGROUND)
    problem = replace(problem, noise=noise)
    east, north = (part.ravel() for part in np.meshgrid(np.arange(4), np.arange(4)))
    east_m, north_m = 25.0 * east + 310.0, 25.0 * north - 740.0
    inside = np.ones(east.size, dtype=bool)
    starts = np.full((east.size, len(problem.hands), MODES, COUNT), np.nan)
    starts[:, :, 0] = problem.prior_mean
    starts[:, :, 0, 0] = np.linspace(0.0, 6.0, east.size)[:, None]
    cells = score_cells(problem, east_m, north_m, 25.0, inside, SILENT, starts)
    shared = share_cameras(problem, cells, SILENT, floor=NO_FLOOR)
    assert np.all(shared.log_density >= cells.log_density - 1e-9)
    gained = shared.log_density - cells.log_density
    assert (gained > 1.0).sum() >= 4
    # Neighbours now tell much the same: what is left is the ground's own.
    assert np.ptp(shared.log_density) < 0.5 * np.ptp(cells.log_density)
