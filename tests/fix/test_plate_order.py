"""Check in which order the plates of a panorama are said to hang."""

from __future__ import annotations

import numpy as np
import pytest

from wherestood.evidence.unknowns import COUNT
from wherestood.fix.cells import LIGHT, Cells
from wherestood.fix.plate_order import hanging_orders, order_probability
from wherestood.fix.posterior import Posterior


def test_plates_hang_clockwise_from_the_widest_gap() -> None:
    bearing = np.radians([[20.0, 350.0, 50.0], [200.0, 100.0, 150.0]])
    assert hanging_orders(bearing).tolist() == [[1, 0, 2], [1, 2, 0]]


def test_a_ring_of_plates_begins_after_its_widest_gap() -> None:
    bearing = np.radians([[0.0, 80.0, 170.0, 300.0]])
    assert hanging_orders(bearing).tolist() == [[3, 0, 1, 2]]


def test_whole_turns_of_a_bearing_change_nothing() -> None:
    bearing = np.radians([20.0, -10.0, 410.0])
    assert hanging_orders(bearing).tolist() == [1, 0, 2]


def posterior_of_cameras(score: list[list[float]], mass: list[float]) -> Posterior:
    """Return two cells of two cameras each: the second has the plates the other way."""
    theta = np.zeros((2, 1, 2, COUNT))
    more = np.zeros((2, 1, 2, 1, COUNT))
    more[:, :, 0, 0, 0], more[:, :, 1, 0, 0] = 0.5, -0.5
    modes = np.array(score)[:, None, :]
    total = np.maximum(np.logaddexp.reduce(modes, axis=2), LIGHT)
    side = np.full(2, 10.0)
    cells = Cells(
        np.array([0.0, 10.0]), np.zeros(2), side, np.ones(2),
        total, modes, theta, np.zeros_like(theta), np.zeros(2), more,
        np.zeros_like(more),
    )  # fmt: skip
    return Posterior(cells, np.array(mass), 0.0)


def test_probability_of_an_order_is_summed_over_cameras_and_cells() -> None:
    # Three to one at the likelier cell, one to one at the other.
    score = [[np.log(3.0), 0.0], [0.0, 0.0]]
    posterior = posterior_of_cameras(score, [0.8, 0.2])
    assert order_probability(posterior, (0, 1)) == pytest.approx(0.8 * 0.75 + 0.1)
    assert order_probability(posterior, (1, 0)) == pytest.approx(0.8 * 0.25 + 0.1)


def test_cells_whose_cameras_were_let_go_tell_of_no_order() -> None:
    score = [[0.0, -np.inf], [-np.inf, -np.inf]]
    posterior = posterior_of_cameras(score, [0.6, 0.4])
    assert order_probability(posterior, (0, 1)) == 1.0
