"""Check which cameras make up the answer for a place."""

import numpy as np
import pytest

from wherestood.fix.answers import answer_for
from wherestood.fix.posterior import Place, Posterior, posterior_of

SIDE_M = 20.0
EAST_M = np.arange(-5, 6) * SIDE_M
MIDDLE = 5
TRUE_DEG, WRONG_DEG = 30.0, 70.0
# Cameras of e^-12 of the best's weight, 40 deg off, and more by the neighbours.
A_THOUSANDTH_OF_A_DEGREE = 1e-3


@pytest.fixture
def row(make_cells):
    """Return a row of cells, good but for the middle one, whose camera is another."""
    score = np.zeros(EAST_M.size)
    score[MIDDLE] = -12.0
    cells = make_cells(EAST_M, np.zeros(EAST_M.size), SIDE_M, score)
    cells.theta[..., 0] = np.radians(TRUE_DEG)
    cells.theta[MIDDLE, ..., 0] = np.radians(WRONG_DEG)
    cells.sd[..., 0] = np.radians(0.1)
    return cells


def place_of(posterior: Posterior) -> Place:
    members = np.arange(len(posterior.mass))
    east_m = float(posterior.cells.east_m @ posterior.mass)
    return Place(east_m, 0.0, 1.0, members)


def test_cameras_weigh_by_their_own_scores_not_their_neighbours(problem, row) -> None:
    posterior = posterior_of(row, 3.0 * SIDE_M)
    bad = posterior.cells.east_m == EAST_M[MIDDLE]
    # Among good neighbours the bad cell itself is about as likely as any.
    assert posterior.mass[bad][0] > 0.5 / EAST_M.size
    chosen = answer_for(problem, posterior, place_of(posterior))
    assert chosen.camera.grid_bearing_deg == pytest.approx(
        TRUE_DEG, abs=A_THOUSANDTH_OF_A_DEGREE
    )
    assert chosen.theta[0] == pytest.approx(np.radians(TRUE_DEG))
    # Weighed as its cell is, it would widen the bearing to some 12 deg.
    assert chosen.camera.sd["bearing_deg"] == pytest.approx(0.1, rel=0.2)


def test_the_station_weighs_cells_by_their_probability(problem, row) -> None:
    posterior = posterior_of(row, 3.0 * SIDE_M)
    station = answer_for(problem, posterior, place_of(posterior)).station
    spread = np.sum(posterior.mass * (posterior.cells.east_m - station.east_m) ** 2)
    expected = np.sqrt(spread + SIDE_M**2 / 12.0)
    assert station.sd_east_m == pytest.approx(expected)


def test_two_cameras_of_one_score_share_the_answer(problem, row) -> None:
    row.log_score[MIDDLE] = row.mode_score[MIDDLE, 0, 0] = np.log(EAST_M.size - 1.0)
    posterior = posterior_of(row)
    camera = answer_for(problem, posterior, place_of(posterior)).camera
    middle = 0.5 * (TRUE_DEG + WRONG_DEG)
    assert camera.grid_bearing_deg == pytest.approx(middle)
    assert camera.sd["bearing_deg"] == pytest.approx(np.hypot(20.0, 0.1))
