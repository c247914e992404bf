"""Check that a stained rim does not lead the skyline astray."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from wherestood.plate.stained_rims import under_stained_rims
from wherestood.plate.trace import trace_skyline

WIDTH_PX, HEIGHT_PX = 1200, 900
LEVEL_PX = 420.0
STAIN_FROM_PX = 1080
TWO_PIXELS = 2.0


def hills_px():
    x = np.arange(WIDTH_PX) / WIDTH_PX
    return LEVEL_PX + 40.0 * np.sin(7.0 * x) + 8.0 * np.sin(31.0 * x)


def painted(line_px, *, dim=1.0, seed=1):
    """Paint sky over land; beyond STAIN_FROM_PX all is dimmed by a factor."""
    rng = np.random.default_rng(seed)
    rows = np.arange(HEIGHT_PX)[:, None] + 0.5
    below = np.clip(rows - line_px[None, :] + 0.5, 0.0, 1.0)
    picture = 0.8 - 0.45 * below
    across = np.arange(WIDTH_PX) - STAIN_FROM_PX
    picture *= 1.0 - (1.0 - dim) / (1.0 + np.exp(-across / 6.0))[None, :]
    picture = ndimage.gaussian_filter(picture, 0.8)
    return (picture + 0.012 * rng.normal(size=picture.shape)).astype(np.float32)


def astray(line_px, start=STAIN_FROM_PX):
    """Return the line as it climbs over the stain."""
    wrong = np.rint(line_px)
    wrong[start:] = 60.0
    return wrong


NONE_HELD = np.zeros(WIDTH_PX, dtype=bool)


@pytest.mark.parametrize("mirrored", [False, True])
def test_the_line_is_led_on_under_a_stain_at_either_rim(mirrored):
    line_px = hills_px()
    way = slice(None, None, -1) if mirrored else slice(None)
    picture = painted(line_px, dim=0.4)[:, way]
    led = under_stained_rims(picture, astray(line_px)[way], NONE_HELD)
    off_px = np.abs(led[way] - line_px)[STAIN_FROM_PX:]
    assert np.median(off_px) < TWO_PIXELS


def test_a_real_cliff_at_the_rim_is_left_alone():
    cliff_px = hills_px()
    cliff_px[STAIN_FROM_PX:] = 60.0
    line = np.rint(cliff_px)
    led = under_stained_rims(painted(cliff_px), line, NONE_HELD)
    np.testing.assert_array_equal(led, line)


def test_a_line_led_by_hand_is_left_alone():
    line_px = hills_px()
    held = NONE_HELD.copy()
    held[STAIN_FROM_PX + 40] = True
    wrong = astray(line_px)
    led = under_stained_rims(painted(line_px, dim=0.4), wrong, held)
    np.testing.assert_array_equal(led, wrong)


def test_a_low_step_at_the_rim_is_no_stain():
    line_px = hills_px()
    stepped = np.rint(line_px)
    stepped[STAIN_FROM_PX:] -= 0.05 * WIDTH_PX
    led = under_stained_rims(painted(line_px, dim=0.4), stepped, NONE_HELD)
    np.testing.assert_array_equal(led, stepped)


def test_a_climb_far_from_the_rims_is_left_alone():
    line_px = hills_px()
    wrong = np.rint(line_px)
    wrong[500:700] = 60.0
    led = under_stained_rims(painted(line_px), wrong, NONE_HELD)
    np.testing.assert_array_equal(led, wrong)


def test_the_trace_keeps_the_skyline_under_a_dark_stain_as_the_fits_samples_need():
    line_px = hills_px()
    found = trace_skyline(painted(line_px, dim=0.35))
    columns = np.arange(WIDTH_PX) + 0.5
    off_px = np.abs(found.y_px - np.interp(found.x_px, columns, line_px))
    assert np.percentile(off_px, 99.0) < 2.0 * TWO_PIXELS


def test_the_trace_climbs_a_real_cliff_at_the_rim():
    cliff_px = hills_px()
    cliff_px[STAIN_FROM_PX + 20 :] -= 250.0
    found = trace_skyline(painted(cliff_px))
    # A natural cliff may be left out for a house; it must not be run through.
    beyond = found.x_px > STAIN_FROM_PX + 40
    off_px = found.y_px - np.interp(found.x_px, np.arange(WIDTH_PX) + 0.5, cliff_px)
    assert (np.abs(off_px[beyond]) < 2.0 * TWO_PIXELS).all()
