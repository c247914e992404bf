"""Check the trace on invented plates whose skyline is known."""

import numpy as np
import pytest
import pyvips

from wherestood.errors import SkylineError
from wherestood.plate.scan import Plate
from wherestood.plate.trace import trace_skyline

# What a fix can bear: a false piece of 2% of the width is as wide as a chimney.
LONGEST_FALSE_SHARE = 0.02
FALSE_PX = 10.0
CLOSE_PX = 3.0


def judge(skyline, painted):
    """Return covered share, share within 3 px, longest false run over the width."""
    width = painted.skyline_px.size
    column = np.clip(skyline.x_px.astype(int), 0, width - 1)
    off = np.abs(skyline.y_px - painted.skyline_px[column])
    right = (off < FALSE_PX) & ~painted.hidden[column]
    longest = run = 0
    for bad, broken in zip(off >= FALSE_PX, skyline.break_after, strict=True):
        run = run + 1 if bad else 0
        longest = max(longest, run)
        run = 0 if broken else run
    covered = right.sum() / max((~painted.hidden).sum(), 1)
    return covered, float(np.mean(off < CLOSE_PX)), longest / width


@pytest.mark.parametrize(
    ("kind", "least_covered"),
    [
        ({}, 0.9),
        ({"stain": 0.5}, 0.6),
        ({"clouds": 0.05}, 0.5),
        ({"trees": 4}, 0.6),
        ({"houses": 2}, 0.55),
        ({"masts": 4}, 0.6),
    ],
    ids=["plain", "stained", "clouded", "trees", "houses", "masts"],
)
@pytest.mark.parametrize("seed", [1000, 1002, 1003])
def test_no_long_piece_of_the_trace_is_false(kind, least_covered, seed, paint):
    painted = paint(seed, **kind)
    covered, close, longest = judge(trace_skyline(painted.grey), painted)
    assert longest <= LONGEST_FALSE_SHARE
    assert close >= 0.95
    assert covered >= least_covered


def test_claimed_standard_error_covers_the_real_one(paint):
    painted = paint(1003)
    skyline = trace_skyline(painted.grey)
    column = skyline.x_px.astype(int)
    pull = (skyline.y_px - painted.skyline_px[column]) / skyline.sd_px
    assert 0.2 < np.sqrt(np.mean(pull**2)) < 2.0
    assert abs(np.median(skyline.y_px - painted.skyline_px[column])) < 0.25


@pytest.mark.parametrize("seed", [1001, 1003, 1004])
def test_a_faint_ridge_is_traced_or_left_out_but_not_passed_over(seed, paint):
    painted = paint(seed, haze=0.1)
    covered, _, longest = judge(trace_skyline(painted.grey), painted)
    assert longest <= LONGEST_FALSE_SHARE
    assert covered >= 0.6


@pytest.mark.parametrize("seed", [1003, 1004])
def test_a_faint_ridge_under_clouds_is_not_passed_over(seed, paint):
    painted = paint(seed, haze=0.1, clouds=0.05)
    covered, _, longest = judge(trace_skyline(painted.grey), painted)
    assert longest <= LONGEST_FALSE_SHARE
    assert covered >= 0.45


def test_progress_hears_of_every_step(paint):
    class Listener:
        total, steps = 0, 0

        def stage(self, name: str, total: int | None = None) -> None:
            assert name == "tracing the skyline"
            self.total = total or 0

        def advance(self, steps: int = 1) -> None:
            self.steps += steps

    listener = Listener()
    trace_skyline(paint(1003).grey, progress=listener)
    assert listener.total == listener.steps > 0


def test_large_scan_traced_small_is_settled_at_full_size(tmp_path, paint):
    painted = paint(7, width=3600, height=2700, dust=0, trees=0, grain=0.01)
    deep = (painted.grey * 65535).astype(np.uint16)
    path = tmp_path / "negative.tif"
    pyvips.Image.new_from_array(65535 - deep).copy(
        interpretation="grey16"
    ).write_to_file(str(path), tile=True)
    plate = Plate.open(path)
    assert plate.negative
    skyline = trace_skyline(plate, max_px=600)
    off = skyline.y_px - painted.skyline_px[skyline.x_px.astype(int)]
    one_reduced_px = 6.0
    assert np.median(np.abs(off)) < one_reduced_px / 4
    assert np.mean(np.abs(off) < one_reduced_px) > 0.95


def test_brightness_and_depth_do_not_matter(paint):
    grey = paint(1003).grey
    plain = trace_skyline(grey)
    dim = trace_skyline(0.3 + 0.2 * grey)
    both = np.intersect1d(plain.x_px, dim.x_px)
    assert both.size > 0.95 * plain.x_px.size
    y = plain.y_px[np.isin(plain.x_px, both)] - dim.y_px[np.isin(dim.x_px, both)]
    assert np.median(np.abs(y)) < 0.05


def test_seed_moves_the_line_and_area_opens_a_gap(paint):
    painted = paint(1003)
    x = 600
    below = painted.skyline_px[x] + 40.0
    seeded = trace_skyline(painted.grey, seeds=[(x + 0.5, below)])
    near = np.argmin(np.abs(seeded.x_px - x - 0.5))
    assert abs(seeded.y_px[near] - below) < 15.0
    box = [(300, 0), (500, 0), (500, 900), (300, 900), (300, 0)]
    gapped = trace_skyline(painted.grey, barriers=[box])
    assert not ((gapped.x_px > 302) & (gapped.x_px < 498)).any()
    assert (gapped.x_px < 300).any()
    assert (gapped.x_px > 500).any()


def test_line_does_not_cross_an_open_barrier(paint):
    painted = paint(1003)
    wall = [(x, painted.skyline_px[int(x)] - 25.0) for x in range(200, 1000, 20)]
    free = trace_skyline(painted.grey)
    barred = trace_skyline(painted.grey, barriers=[wall])
    column = barred.x_px.astype(int)
    inside = (column > 220) & (column < 980)
    assert (barred.y_px[inside] > painted.skyline_px[column[inside]] - 25.0).all()
    assert free.x_px.size > 0


def test_blank_scan_is_refused():
    with pytest.raises(SkylineError, match="blank"):
        trace_skyline(np.full((300, 400), 0.5))


def test_plate_without_sky_is_refused():
    rng = np.random.default_rng(3)
    rock = rng.uniform(0.1, 0.5, (40, 60)).repeat(10, 0).repeat(10, 1)
    with pytest.raises(SkylineError, match=r"[Nn]o sky|Only \d+%"):
        trace_skyline(rock)


def test_plate_of_sky_alone_is_refused():
    rng = np.random.default_rng(4)
    sky = 0.8 + 0.03 * rng.normal(size=(400, 600))
    with pytest.raises(SkylineError, match=r"sky|Only \d+%"):
        trace_skyline(sky)


def test_seed_outside_the_scan_is_refused(paint):
    with pytest.raises(SkylineError, match="outside the scan"):
        trace_skyline(paint(1003).grey, seeds=[(5000.0, 10.0)])


def test_a_pale_slope_above_dark_woods_is_land():
    rng = np.random.default_rng(5)
    rows, columns = np.mgrid[0:600, 0:800] + 0.5
    crest = 250.0 + 20.0 * np.sin(columns[0] / 90.0)
    woods = crest + 3.0 + 12.0 * (1.0 + np.sin(columns[0] / 40.0))
    pale, dark = 0.14, 0.35  # below the sky's tone
    picture = 0.9 - pale * np.clip(rows - crest + 0.5, 0.0, 1.0)
    picture -= (dark - pale) * np.clip(rows - woods + 0.5, 0.0, 1.0)
    picture += 0.008 * rng.normal(size=picture.shape)
    skyline = trace_skyline(picture)
    off = skyline.y_px - crest[skyline.x_px.astype(int)]
    assert skyline.x_px.size > 0.9 * crest.size
    assert np.percentile(np.abs(off), 95) < 1.0
