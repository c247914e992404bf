"""Check how a ridge line is averaged over strips of the plate."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wherestood.evidence.ridge_samples import FEWEST_STRIPS, STRIPS, sample_ridge
from wherestood.plate.skyline import Skyline

WIDTH_PX, HEIGHT_PX = 3000, 4000
DIAGONAL_PX = 5000.0
STRIP_PX = WIDTH_PX / STRIPS
ROUNDING = 1e-12


def line_of(x_px, y_px, sd_px=2.0):
    x, y = np.asarray(x_px, dtype=np.float64), np.asarray(y_px, dtype=np.float64)
    broken = np.zeros(x.size, dtype=bool)
    return Skyline(x, y, np.full(x.size, sd_px), WIDTH_PX, HEIGHT_PX, broken)


def test_a_line_of_two_points_is_sampled_in_every_strip_it_crosses():
    found = sample_ridge(line_of([500.0, 1500.0], [2500.0, 2700.0]), 0.9)
    assert found is not None
    middles_px = STRIP_PX * (np.arange(5, 15) + 0.5)
    x, y, sd, _, _, slope = found.table.T
    assert x == pytest.approx((middles_px - 1500.0) / DIAGONAL_PX, abs=ROUNDING)
    height_px = 2500.0 + 0.2 * (middles_px - 500.0)
    assert y == pytest.approx((2000.0 - height_px) / DIAGONAL_PX, abs=ROUNDING)
    # Down the scan to the right is down the plate: Y is up.
    assert slope == pytest.approx(-0.2, abs=ROUNDING)
    # An error across the line shows the more, up and down, the steeper it is.
    assert sd == pytest.approx(2.0 * math.hypot(1.0, 0.2) / DIAGONAL_PX, abs=ROUNDING)


def test_a_strip_less_than_half_crossed_is_left_out():
    found = sample_ridge(line_of([540.0, 1449.0], [2500.0, 2500.0]), 0.9)
    assert found is not None
    assert len(found.table) == 9  # the strip from 1400 px is 49 of 100 px covered


def test_a_line_over_too_few_strips_tells_nothing():
    fewest_px = FEWEST_STRIPS * STRIP_PX
    assert sample_ridge(line_of([500.0, 500.0 + fewest_px], [2500.0] * 2), 0.9)
    shorter = line_of([500.0, 440.0 + fewest_px], [2500.0] * 2)
    assert sample_ridge(shorter, 0.9) is None


def test_a_line_across_the_whole_plate_has_every_strip():
    found = sample_ridge(line_of([0.0, WIDTH_PX], [2500.0, 2500.0]), 0.4)
    assert found is not None
    assert len(found.table) == STRIPS
    assert found.trust == 0.4
    # Legendre's second and third polynomials over the plate's width.
    across = found.table[:, 0] / (0.5 * WIDTH_PX / DIAGONAL_PX)
    for column, degree in ((3, 2), (4, 3)):
        expected = np.polynomial.Legendre.basis(degree)(across)
        assert found.table[:, column] == pytest.approx(expected, abs=ROUNDING)


def test_the_plate_from_behind_is_the_mirrored_line():
    x_px, y_px = np.array([300.0, 900.0, 1700.0]), np.array([2500.0, 2650.0, 2400.0])
    behind = sample_ridge(line_of(WIDTH_PX - x_px[::-1], y_px[::-1]), 0.7)
    seen = sample_ridge(line_of(x_px, y_px), 0.7)
    assert behind is not None
    assert seen is not None
    np.testing.assert_allclose(seen.mirrored().table, behind.table, atol=ROUNDING)
    assert seen.mirrored().trust == 0.7
