"""Check that a dark border above the sky is taken for neither land nor sky."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from wherestood.plate.ragged_border import border_depth
from wherestood.plate.trace import trace_skyline

WIDTH_PX, HEIGHT_PX = 1200, 960
BARE_GLASS, LAND, SKY = 0.05, 0.4, 0.9
# The edge is blurred over 0.8 px: what is farther off follows something else.
THREE_PIXELS = 3.0


def low_sky_px():
    """Return hills that leave the picture's right third without sky."""
    x = np.arange(WIDTH_PX) / WIDTH_PX
    return 150.0 - 190.0 * np.clip(x - 0.1, 0.0, None) + 8.0 * np.sin(25.0 * x)


def near_the_top_px():
    """Return hills close below the border from side to side."""
    x = np.arange(WIDTH_PX) / WIDTH_PX
    return 95.0 + 14.0 * np.sin(6.0 * x) + 6.0 * np.sin(23.0 * x)


def painted(line_px, *, seed=1):
    """Paint sky over streaked land inside a ragged border of bare glass."""
    rng = np.random.default_rng(seed)
    rows = np.arange(HEIGHT_PX)[:, None] + 0.5
    streaks = ndimage.gaussian_filter(rng.normal(size=(HEIGHT_PX, WIDTH_PX)), (3, 25))
    land = LAND + 0.12 * streaks / streaks.std()
    picture = np.where(rows < line_px[None, :], SKY, land)
    columns = np.arange(WIDTH_PX)[None, :] + 0.5
    wave = 5.0 * ndimage.gaussian_filter1d(rng.normal(size=WIDTH_PX), 20) * 20**0.5
    inside_px = np.minimum(rows, HEIGHT_PX - rows) - 22.0 - wave[None, :]
    inside_px = np.minimum(inside_px, np.minimum(columns, WIDTH_PX - columns) - 18.0)
    # Stains creep in from the border, as far as film is old.
    picture *= 1.0 - 0.3 * np.exp(-np.clip(inside_px, 0.0, None) / 30.0)
    picture = np.where(inside_px < 0.0, BARE_GLASS, picture)
    picture = ndimage.gaussian_filter(picture, 0.8)
    return (picture + 0.012 * rng.normal(size=picture.shape)).astype(np.float32)


@pytest.mark.parametrize(
    ("line_px", "least_share"),
    [(near_the_top_px(), 0.85), (low_sky_px(), 0.45)],
    ids=["near the top", "leaves the frame"],
)
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_skyline_near_a_dark_border_is_traced(line_px, least_share, mirrored):
    way = slice(None, None, -1) if mirrored else slice(None)
    skyline = trace_skyline(np.ascontiguousarray(painted(line_px)[:, way]))
    truth_px = np.interp(skyline.x_px, np.arange(WIDTH_PX) + 0.5, line_px[way])
    assert np.abs(skyline.y_px - truth_px).max() < THREE_PIXELS
    assert skyline.x_px.size / WIDTH_PX > least_share


def tones(*columns):
    return np.array(columns, dtype=np.float64).T


def test_a_border_ends_where_the_column_turns_bright():
    dark, bright = [0.1] * 40, [0.9] * 40
    one = [0.1, 0.1, *bright[2:]]
    assert border_depth(tones(*[one] * 39, bright), 0.5).tolist() == [2] * 39 + [0]
    assert not border_depth(tones(*[dark] * 40), 0.5).any()


def test_a_border_over_land_is_as_deep_as_beside_it():
    land = [0.1] * 40
    over_sky = [0.1, 0.1, *[0.9] * 38]
    depth = border_depth(tones(*[over_sky] * 20, *[land] * 20), 0.5)
    assert depth.tolist() == [2] * 40


def test_a_stain_is_no_border():
    stained = [0.3, 0.4, *[0.9] * 38]
    assert not border_depth(tones(*[stained] * 40), 0.5).any()


def test_what_is_dark_farther_down_is_no_border():
    # 6% of 40 blocks are 2.
    hill = [0.1, 0.1, 0.1, *[0.9] * 37]
    assert not border_depth(tones(*[hill] * 40), 0.5).any()
