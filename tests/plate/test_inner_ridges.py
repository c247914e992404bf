"""Check the tracing of lines below the skyline on painted plates."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from wherestood.evidence.ridge_samples import FEWEST_STRIPS, STRIPS
from wherestood.plate.inner_ridges import trace_ridges
from wherestood.plate.skyline import Skyline

WIDTH_PX, HEIGHT_PX = 1200, 900
SKYLINE_PX = 300.0
GRAIN = 0.012
A_PIXEL = 1.0


def skyline_of(width_px=WIDTH_PX, height_px=HEIGHT_PX, y_px=SKYLINE_PX):
    x_px = np.arange(width_px) + 0.5
    level = np.full(width_px, y_px)
    broken = np.zeros(width_px, dtype=bool)
    return Skyline(x_px, level, np.ones(width_px), width_px, height_px, broken)


def painted(seed, *edges, ground=0.5):
    """Paint sky over ground; each edge darkens what is below its rows."""
    rng = np.random.default_rng(seed)
    rows = np.arange(HEIGHT_PX)[:, None] + 0.5
    picture = np.where(rows < SKYLINE_PX, 0.85, ground) * np.ones((1, WIDTH_PX))
    for line_px, step in edges:
        with np.errstate(invalid="ignore"):
            below = np.clip(rows - line_px[None, :] + 0.5, 0.0, 1.0)
        picture -= step * np.nan_to_num(below)
    picture = ndimage.gaussian_filter(picture, 0.8)
    picture += GRAIN * rng.normal(size=picture.shape)
    return np.clip(picture, 0.0, 1.0).astype(np.float32)


def hill_px(middle, depth=90.0):
    x = (np.arange(WIDTH_PX) + 0.5) / WIDTH_PX
    return SKYLINE_PX + middle - depth * np.sin(np.pi * x)


def off_px(line, drawn_px):
    return line.y_px - np.interp(line.x_px, np.arange(WIDTH_PX) + 0.5, drawn_px)


@pytest.mark.parametrize("step", [0.15, -0.15])
def test_a_drawn_edge_is_found_within_a_pixel(step):
    """Darker below, as a near hill through haze, or paler, as a field before woods."""
    drawn_px = hill_px(260.0)
    found = trace_ridges(painted(1, (drawn_px, step)), skyline_of())
    # It may come in pieces, and never twice over the same columns.
    columns = np.concatenate([line.x_px for line in found])
    assert columns.size == np.unique(columns).size > 0.9 * WIDTH_PX
    for line in found:
        assert np.sqrt(np.mean(off_px(line, drawn_px) ** 2)) < A_PIXEL
        assert (line.width_px, line.height_px) == (WIDTH_PX, HEIGHT_PX)
        assert (line.sd_px > 0.0).all()
        assert not line.break_after.any()


def test_two_edges_are_told_apart_the_stronger_first():
    upper, lower = hill_px(150.0, 30.0), hill_px(330.0, 60.0)
    found = trace_ridges(painted(2, (upper, 0.013), (lower, 0.2)), skyline_of())
    assert len(found) == 2
    for line, drawn_px in zip(found, (lower, upper), strict=True):
        assert np.abs(off_px(line, drawn_px)).max() < 3.0 * A_PIXEL


def test_an_edge_over_part_of_the_width_ends_where_it_ends():
    drawn_px = hill_px(260.0)
    drawn_px[:400] = drawn_px[801:] = np.nan
    (line,) = trace_ridges(painted(3, (drawn_px, 0.2)), skyline_of())
    slack = 0.03 * WIDTH_PX
    assert abs(line.x_px[0] - 400.0) < slack
    assert abs(line.x_px[-1] - 800.0) < slack


@pytest.mark.parametrize("seed", range(3))
def test_plain_ground_has_no_lines(seed):
    assert trace_ridges(painted(seed), skyline_of()) == ()


@pytest.mark.parametrize("seed", range(6))
def test_streaks_of_a_meadow_are_no_lines_long_enough_to_count(seed):
    rng = np.random.default_rng(100 + seed)
    streaks = ndimage.gaussian_filter(rng.normal(size=(HEIGHT_PX, WIDTH_PX)), (3, 40))
    picture = painted(seed)
    below = np.arange(HEIGHT_PX) > SKYLINE_PX
    picture[below] += (0.06 * streaks / streaks.std()).astype(np.float32)[below]
    for line in trace_ridges(picture, skyline_of()):
        assert np.ptp(line.x_px) < WIDTH_PX * FEWEST_STRIPS / STRIPS


def test_an_upright_edge_is_a_wall_and_no_ridge():
    picture = painted(5)
    picture[500:800, 400:430] -= 0.25
    for line in trace_ridges(picture, skyline_of()):
        # Sill and eaves alone, if anything: never up the side.
        assert np.abs(np.diff(line.y_px)).max() <= 4.0 + 1e-9
        assert np.ptp(line.y_px) < 30.0


def test_nothing_is_looked_for_in_the_sky_or_at_the_foot():
    rows = np.full(WIDTH_PX, 150.0)
    sky_px = rows - 30.0 * np.sin(np.arange(WIDTH_PX) / 200.0)
    foot_px = np.full(WIDTH_PX, 0.97 * HEIGHT_PX)
    picture = painted(6, (sky_px, 0.1), (foot_px, 0.2))
    assert trace_ridges(picture, skyline_of()) == ()


def test_a_reduced_scan_gives_pixels_of_the_whole():
    drawn_px = hill_px(260.0)
    picture = np.kron(painted(7, (drawn_px, 0.15)), np.ones((2, 2), np.float32))
    sky = skyline_of(2 * WIDTH_PX, 2 * HEIGHT_PX, 2 * SKYLINE_PX)
    (line,) = trace_ridges(picture, sky, max_px=WIDTH_PX)
    halved_px = line.y_px / 2.0
    drawn = np.interp(line.x_px / 2.0, np.arange(WIDTH_PX) + 0.5, drawn_px)
    assert np.sqrt(np.mean((halved_px - drawn) ** 2)) < A_PIXEL
    assert (line.width_px, line.height_px) == (2 * WIDTH_PX, 2 * HEIGHT_PX)
