"""Check how a traced skyline is averaged into what is scored."""

import numpy as np
import pytest

from wherestood.errors import SkylineError
from wherestood.evidence.samples import BINS, FEWEST_BINS, sample_skyline
from wherestood.plate.skyline import Skyline

WIDTH_PX, HEIGHT_PX = 3000, 2000
DIAGONAL_PX = np.hypot(WIDTH_PX, HEIGHT_PX)


def skyline(x_px, y_px, sd_px=2.0) -> Skyline:
    count = len(x_px)
    return Skyline(
        np.asarray(x_px, dtype=np.float64),
        np.asarray(y_px, dtype=np.float64),
        np.full(count, sd_px),
        WIDTH_PX,
        HEIGHT_PX,
        np.zeros(count, dtype=bool),
    )


def test_a_straight_skyline_is_sampled_on_itself() -> None:
    x_px = np.arange(WIDTH_PX) + 0.5
    samples = sample_skyline(skyline(x_px, 600.0 + 0.1 * (x_px - 1500.0)))
    x, y, sd = samples.table[:, :3].T
    assert len(x) == BINS
    np.testing.assert_allclose(
        y * DIAGONAL_PX, 400.0 - 0.1 * x * DIAGONAL_PX, atol=1e-9
    )
    # An error across a sloping line shows vertically the more.
    np.testing.assert_allclose(sd * DIAGONAL_PX, 2.0 * np.hypot(1.0, 0.1))


def test_a_strip_traced_too_little_is_left_out() -> None:
    x_px = np.arange(WIDTH_PX) + 0.5
    strip_px = WIDTH_PX / BINS
    # Seven tenths of the third strip are hidden.
    hidden = (x_px > 2.0 * strip_px) & (x_px < 2.7 * strip_px)
    samples = sample_skyline(skyline(x_px[~hidden], np.full((~hidden).sum(), 700.0)))
    assert len(samples.table) == BINS - 1
    place = samples.table[:, 0] * DIAGONAL_PX + WIDTH_PX / 2.0
    assert not np.any((place > 2.0 * strip_px) & (place < 3.0 * strip_px))


def test_warp_shapes_leave_mean_and_slope_alone() -> None:
    x_px = np.arange(WIDTH_PX) + 0.5
    table = sample_skyline(skyline(x_px, np.full(WIDTH_PX, 700.0))).table
    # Legendre's second and third polynomials at the middles of equal strips.
    few = 5.0 / BINS**2
    assert abs(table[:, 3].mean()) < few
    assert abs((table[:, 4] * table[:, 0]).mean()) < few


def test_mirroring_twice_gives_the_samples_back() -> None:
    x_px = np.arange(WIDTH_PX) + 0.5
    samples = sample_skyline(skyline(x_px, 700.0 + 50.0 * np.sin(x_px / 200.0)))
    once = samples.mirrored()
    np.testing.assert_allclose(once.table[:, 0], -samples.table[::-1, 0])
    np.testing.assert_allclose(once.table[:, 1], samples.table[::-1, 1])
    assert np.all(np.diff(once.table[:, 0]) > 0.0)
    np.testing.assert_array_equal(once.mirrored().table, samples.table)


def test_too_little_skyline_is_refused_with_its_number() -> None:
    x_px = np.arange(2.0 * WIDTH_PX / BINS) + 0.5
    with pytest.raises(SkylineError) as caught:
        sample_skyline(skyline(x_px, np.full(len(x_px), 700.0)))
    told = str(caught.value)
    assert f"Only 2 of {BINS} strips" in told
    assert f"at least {FEWEST_BINS} are needed" in told
    assert "--skyline" in told
