"""Test that a scan says whether a finer one would show more, on invented tones."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from wherestood.plate.finer_scan import fineness_of

SIDE = 256


def tones() -> np.ndarray:
    """Return tones whose power falls as those of pictures of things do, f^-2."""
    count = 4 * SIDE
    along = np.fft.fftfreq(count)
    fine = np.hypot(*np.meshgrid(along, along))
    fine[0, 0] = 1.0
    white = np.random.default_rng(7).standard_normal((count, count))
    made = np.fft.ifft2(np.fft.fft2(white) / fine).real
    return made / made.std()


def windows(made: np.ndarray) -> np.ndarray:
    steps = range(0, made.shape[0] - SIDE + 1, SIDE)
    return np.array([made[i : i + SIDE, j : j + SIDE] for i in steps for j in steps])


@pytest.mark.parametrize(
    ("made", "verdict", "finest_px"),
    [
        (lambda one, _: one, "would show more", 1.0),
        (lambda one, rng: one + rng.normal(0, 0.01, one.shape), "would show more", 1.0),
        # A blur of 1 px leaves a tenth of the power at 0.24 cycles: lines of 2.1 px.
        (lambda one, _: ndimage.gaussian_filter(one, 1.0), "would show no more", 2.1),
        # A scan of twice the pixels that the plate has detail for.
        (lambda one, _: ndimage.zoom(one, 2, order=3), "would show no more", 2.0),
        (
            lambda one, rng: (
                ndimage.gaussian_filter(one, 2.0) + rng.normal(0.0, 0.05, one.shape)
            ),
            "would show only grain",
            3.0,
        ),
    ],
    ids=["sharp", "sharp, some grain", "blurred", "twice the pixels", "grain"],
)
def test_what_a_finer_scan_would_show(made, verdict, finest_px) -> None:
    told = fineness_of(windows(made(tones(), np.random.default_rng(8))))
    assert told.verdict == verdict, told
    if verdict != "would show more":
        assert told.finest_px == pytest.approx(finest_px, rel=0.25)
    assert told.sentence().endswith(".")
