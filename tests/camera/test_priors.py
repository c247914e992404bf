"""Check what was likely of a camera against its written shares."""

import numpy as np
import pytest
from scipy.integrate import quad

from wherestood.camera.priors import Mixture, Offset, camera_prior, distance_prior
from wherestood.errors import InputError

WIDTH_PX, HEIGHT_PX = 1600, 1200
QUADRATURE = 1e-7
DRAWS = 400_000
# Three standard errors of a share near one half.
DRAWN_SHARE = 3.0 * 0.5 / DRAWS**0.5


def test_ln_c_integrates_to_one_within_its_limits_and_is_nothing_outside() -> None:
    prior = camera_prior(WIDTH_PX, HEIGHT_PX, trimmed=False)
    low, high = np.log(0.45), np.log(2.2)
    whole, _ = quad(lambda x: np.exp(prior.log_density_ln_c(x)), low, high)
    assert whole == pytest.approx(1.0, abs=QUADRATURE)
    outside = prior.log_density_ln_c([low - 1e-6, high + 1e-6])
    assert np.all(outside == -np.inf)


def test_ln_c_follows_draws_of_the_two_lens_families() -> None:
    rng = np.random.default_rng(1)
    common = rng.random(DRAWS) < 0.85
    drawn = np.where(
        common,
        rng.normal(np.log(0.92), 0.25, DRAWS),
        rng.normal(np.log(1.0), 0.5, DRAWS),
    )
    drawn = drawn[(drawn > np.log(0.45)) & (drawn < np.log(2.2))]
    prior = camera_prior(WIDTH_PX, HEIGHT_PX, trimmed=False)
    share, _ = quad(
        lambda x: np.exp(prior.log_density_ln_c(x)), np.log(0.45), np.log(0.92)
    )
    assert np.mean(drawn < np.log(0.92)) == pytest.approx(share, abs=DRAWN_SHARE)
    assert prior.ln_c.mean == pytest.approx(drawn.mean(), abs=DRAWN_SHARE)
    assert prior.ln_c.sd == pytest.approx(drawn.std(), abs=DRAWN_SHARE)


def test_known_lens_is_narrow_about_its_distance() -> None:
    prior = distance_prior(0.9, 0.02)
    assert prior.mean == pytest.approx(np.log(0.9))
    assert prior.sd == pytest.approx(0.02)


def test_tilt_is_mostly_plumb_with_a_wide_rest() -> None:
    tilt = camera_prior(WIDTH_PX, HEIGHT_PX, trimmed=False).tilt_rad
    variance = 0.85 * 1.5**2 + 0.15 * 5.0**2
    assert np.degrees(tilt.sd) == pytest.approx(np.sqrt(variance))
    # 8 deg is out of reach of the plumb cameras, but not of the pointed ones.
    pointed = 0.15 * np.exp(-0.5 * 1.6**2) / (np.radians(5.0) * np.sqrt(2 * np.pi))
    got = np.exp(tilt.log_density(np.radians(8.0)))
    assert got == pytest.approx(pointed, rel=1e-4)


def test_trim_widens_rise_cross_and_roll_by_its_uniform_share() -> None:
    whole = camera_prior(WIDTH_PX, HEIGHT_PX, trimmed=False)
    cut = camera_prior(WIDTH_PX, HEIGHT_PX, trimmed=True)
    assert whole.rise.sd_px == pytest.approx(0.1 * HEIGHT_PX)
    assert whole.cross.sd_px == pytest.approx(0.03 * WIDTH_PX)
    for before, after in ((whole.rise, cut.rise), (whole.cross, cut.cross)):
        added = after.sd_px**2 - before.sd_px**2
        assert added == pytest.approx(after.trim_px**2 / 12.0)
        assert added > 0.0
    # Drawn: any trim up to 15% of the side, any part of it from one end.
    rng = np.random.default_rng(2)
    trim = rng.uniform(0.0, 0.15, DRAWS)
    moved = rng.uniform(-0.5, 0.5, DRAWS) * trim * WIDTH_PX
    added_px = np.sqrt(cut.cross.sd_px**2 - whole.cross.sd_px**2)
    assert added_px == pytest.approx(moved.std(), rel=0.01)
    assert cut.roll_sd_rad > whole.roll_sd_rad > np.radians(1.5)


@pytest.mark.parametrize("trim_px", [0.0, 30.0, 400.0])
def test_offset_density_is_the_convolution_of_movement_and_trim(trim_px: float) -> None:
    offset = Offset(movement_sd_px=40.0, trim_px=trim_px)
    density = np.vectorize(lambda x: float(np.exp(offset.log_density(x))))
    reach = 8.0 * 40.0 + trim_px
    assert quad(density, -reach, reach, limit=200)[0] == pytest.approx(
        1.0, abs=QUADRATURE
    )
    square = quad(lambda x: x * x * density(x), -reach, reach, limit=200)[0]
    assert np.sqrt(square) == pytest.approx(offset.sd_px, rel=1e-6)


def test_offset_density_far_out_is_finite() -> None:
    # A hundred sd out the difference of two normal integrals would be 0 - 0.
    assert np.isfinite(Offset(1.0, 10.0).log_density([-105.0, 105.0])).all()


def test_paper_bends_more_than_glass_and_direct_positives_are_reversed() -> None:
    glass = camera_prior(WIDTH_PX, HEIGHT_PX, trimmed=False, process="glass negative")
    paper = camera_prior(WIDTH_PX, HEIGHT_PX, trimmed=False, process="print")
    direct = camera_prior(WIDTH_PX, HEIGHT_PX, trimmed=False, process="direct positive")
    assert paper.vertical_scale_sd == 0.01
    assert paper.vertical_scale_sd > glass.vertical_scale_sd
    assert all(p > g for p, g in zip(paper.warp_sds, glass.warp_sds, strict=True))
    assert (glass.reversed_probability, direct.reversed_probability) == (0.03, 0.95)


def test_unknown_process_and_empty_scan_are_refused() -> None:
    with pytest.raises(InputError, match="glass negative"):
        camera_prior(WIDTH_PX, HEIGHT_PX, trimmed=False, process="fresco")
    with pytest.raises(InputError, match="0 x 1200 px"):
        camera_prior(0, HEIGHT_PX, trimmed=False)


def test_mixture_keeps_the_shape_of_its_input() -> None:
    one = Mixture((1.0,), (0.0,), (1.0,))
    assert one.log_density(0.0).shape == ()
    assert one.log_density(np.zeros((2, 3))).shape == (2, 3)
