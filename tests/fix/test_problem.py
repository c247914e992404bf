"""Check how a search is set up: one set of priors, nothing passed over in silence."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from wherestood.camera.priors import REVERSED, REVERSED_UNKNOWN, camera_prior
from wherestood.errors import InputError
from wherestood.evidence.items import Feature, Mark, gather
from wherestood.evidence.unknowns import CAMERA, UNKNOWNS
from wherestood.fix.problem import COVER_TREND_SD_M, set_up
from wherestood.fix.settings import LocateSettings


@pytest.fixture(scope="module")
def area(land, area_of):
    return area_of(land, shapely.box(-2000.0, -2000.0, 2000.0, 2000.0))


@pytest.mark.parametrize("trimmed", [False, True])
@pytest.mark.parametrize("process", [None, *REVERSED])
def test_the_search_believes_of_a_camera_what_the_cameras_prior_says(
    plate, land, wavy_skyline, area, trimmed: bool, process
) -> None:
    settings = LocateSettings(trimmed=trimmed, process=process)
    made = set_up(plate, land, wavy_skyline, area, settings)
    width_px, height_px = wavy_skyline.width_px, wavy_skyline.height_px
    prior = camera_prior(width_px, height_px, trimmed=trimmed, process=process)
    diagonal_px = np.hypot(width_px, height_px)
    believed = {
        "log_distance": (prior.ln_c.mean, prior.ln_c.sd),
        "tilt": (0.0, prior.tilt_rad.sd),
        "roll": (0.0, prior.roll_sd_rad),
        "rise": (0.0, prior.rise.sd_px / diagonal_px),
        "cross": (0.0, prior.cross.sd_px / diagonal_px),
        "radial": (prior.k1_mean, prior.k1_sd),
        "vertical_scale": (0.0, prior.vertical_scale_sd),
        "warp_two": (0.0, prior.warp_sds[0]),
        "warp_three": (0.0, prior.warp_sds[1]),
    }
    for name, (mean, sd) in believed.items():
        index = UNKNOWNS.index(name)
        assert made.prior_mean[index] == pytest.approx(mean), name
        assert made.prior_sd[index] == pytest.approx(sd), name
    assert set(believed) == set(UNKNOWNS[1:CAMERA])
    share = REVERSED_UNKNOWN if process is None else REVERSED[process]
    assert np.exp(made.hands[1].log_prior) == pytest.approx(share)


def test_refraction_that_differs_from_the_terrains_is_refused(
    plate, land, wavy_skyline, area
) -> None:
    with pytest.raises(InputError, match=r"0\.2 in the settings.*with 0\.13") as caught:
        set_up(plate, land, wavy_skyline, area, LocateSettings(refraction=0.2))
    assert "refraction=0.2" in str(caught.value)
    same = replace(land, refraction=0.2)
    made = set_up(plate, same, wavy_skyline, area, LocateSettings(refraction=0.2))
    usual = set_up(plate, land, wavy_skyline, area, LocateSettings())
    assert made.curvature_per_m == pytest.approx(usual.curvature_per_m * 0.80 / 0.87)
    index = UNKNOWNS.index("refraction")
    # The same doubt of k is more of a smaller drop.
    assert made.prior_sd[index] * 0.80 == pytest.approx(usual.prior_sd[index] * 0.87)


def test_a_skyline_is_used_as_its_file_keeps_it(
    plate, land, wavy_skyline, area
) -> None:
    rng = np.random.default_rng(1)
    off_px = rng.uniform(-1.0, 1.0, len(wavy_skyline.x_px)) * 4e-4
    kept = replace(wavy_skyline, y_px=np.round(wavy_skyline.y_px, 3))
    finer = replace(kept, y_px=kept.y_px + off_px)
    one, other = (
        set_up(plate, land, line, area, LocateSettings()).hands[0].samples.table
        for line in (kept, finer)
    )
    np.testing.assert_array_equal(one, other)


def test_doubling_doubts_what_stands_above_the_model_and_no_camera(problem) -> None:
    doubled = problem.doubled()
    np.testing.assert_allclose(doubled.noise.levels, 2.0 * problem.noise.levels)
    for name in ("cover_sd_m", "doubt"):
        assert getattr(doubled.noise, name) == 2.0 * getattr(problem.noise, name)
    for name in ("cover_mean_m", "foreground_log_odds", "temper", "station_power"):
        assert getattr(doubled.noise, name) == getattr(problem.noise, name)
    np.testing.assert_array_equal(doubled.prior_sd[:CAMERA], problem.prior_sd[:CAMERA])
    trend = [UNKNOWNS.index(name) for name in ("cover_slope", "cover_bend")]
    np.testing.assert_allclose(doubled.prior_sd[trend], 2.0 * COVER_TREND_SD_M)


def test_a_mark_that_only_repeats_another_does_not_count(plate, land, area) -> None:
    lon, lat = land.frame.to_lonlat(np.array([500.0]), np.array([900.0]))
    tower = Feature(id="tower", geometry=(float(lon[0]), float(lat[0])), height_m=90.0)
    first = Mark(id="A", x_px=100.0, y_px=90.0, features=tower)
    copied = replace(first, id="B", derived_from=("A",))
    own = replace(first, id="C")
    made = set_up(
        plate, land, None, area, LocateSettings(), gather([first, copied, own])
    )
    assert [mark.id for mark in made.marks.marks] == ["A", "C"]
