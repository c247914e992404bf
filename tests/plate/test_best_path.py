"""Check the cheapest line against every line there is."""

import itertools

import numpy as np
import pytest

from wherestood.plate.best_path import cheapest_line

SINGLE_PRECISION = 1e-4


def price(cost, line, step, jump):
    rise = np.abs(np.diff(line))
    return cost[np.arange(len(line)), line].sum() + np.minimum(step * rise, jump).sum()


@pytest.mark.parametrize("seed", range(8))
def test_no_other_line_is_cheaper(seed):
    rng = np.random.default_rng(seed)
    cost = rng.uniform(0, 2, (5, 6)).astype(np.float32)
    step, jump = rng.uniform(0, 1), rng.uniform(0, 2)
    found = price(cost, cheapest_line(cost, step, jump), step, jump)
    every = itertools.product(range(6), repeat=5)
    least = min(price(cost, np.array(line), step, jump) for line in every)
    assert found == pytest.approx(least, abs=SINGLE_PRECISION)


def test_closed_places_are_not_crossed():
    cost = np.zeros((9, 9), np.float32)
    cost[4] = np.inf
    cost[4, 7] = 5.0
    assert cheapest_line(cost, 0.1, 100.0)[4] == 7
