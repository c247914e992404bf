"""Check how a person's marks bind a trace."""

import numpy as np

from wherestood.plate.hand_marks import led_by_pins, near_pins, under_walls
from wherestood.plate.reduced_scan import ReducedScan

HALF = 2.0  # the scan is twice the size of the reduced image


def reduced() -> ReducedScan:
    grey = np.zeros((100, 200), np.float32)
    return ReducedScan(grey, lambda *_: grey, 400, 200)


def test_a_seed_leads_the_line_farther_than_it_silences_doubt() -> None:
    near, led = near_pins({50: 30.0}, 200), led_by_pins({50: 30.0}, 200)
    assert np.flatnonzero(near).tolist() == list(range(48, 53))  # 1% either side
    assert np.flatnonzero(led).tolist() == list(range(40, 61))  # 5%


def test_the_line_is_under_an_open_barrier_within_its_span_alone() -> None:
    line = np.full(200, 60.0)
    wall = np.array([[100.0, 80.0], [200.0, 90.0]])  # full-size pixels
    under = under_walls([wall], line, reduced())
    columns = (np.flatnonzero(under) + 0.5) * HALF
    assert (columns.min(), columns.max()) == (101.0, 199.0)
    assert not under_walls([wall], np.full(200, 30.0), reduced()).any()


def test_an_area_is_no_barrier_to_be_under() -> None:
    area = np.array([[100, 20], [200, 20], [200, 40], [100, 40], [100, 20]], float)
    assert not under_walls([area], np.full(200, 60.0), reduced()).any()
