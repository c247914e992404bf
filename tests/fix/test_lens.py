"""Check what is believed of a lens."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad

from wherestood.camera.priors import (
    LONGEST_OVER_DIAGONAL,
    SHORTEST_OVER_DIAGONAL,
    camera_prior,
)
from wherestood.errors import LensError
from wherestood.fix.lens import lens_prior
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate

DIAGONAL_PX = 1500.0
LIMITS = [SHORTEST_OVER_DIAGONAL, LONGEST_OVER_DIAGONAL]
QUADRATURE = 1e-6


def settings(mean_mm: float | None = None, sd_mm: float | None = None):
    return LocateSettings(principal_distance_mm=mean_mm, principal_distance_sd_mm=sd_mm)


def integral(prior) -> float:
    low, high = prior.limits
    density = lambda x: math.exp(float(prior.log_density(np.array(x))))  # noqa: E731
    total, _ = quad(density, low, high, points=[prior.mean], epsabs=QUADRATURE / 10)
    return total


def test_unknown_lens_has_the_stated_mixture_within_its_limits(plate: Plate) -> None:
    prior = lens_prior(plate, DIAGONAL_PX, settings())
    assert not prior.known
    np.testing.assert_allclose(np.exp(prior.limits), LIMITS)
    mixture = sum(
        weight * stats.norm(mean, sd).pdf(math.log(0.8))
        for weight, mean, sd in ((0.85, math.log(0.92), 0.25), (0.15, 0.0, 0.5))
    )
    within = sum(
        weight * np.diff(stats.norm(mean, sd).cdf(prior.limits)).item()
        for weight, mean, sd in ((0.85, math.log(0.92), 0.25), (0.15, 0.0, 0.5))
    )
    at = math.exp(float(prior.log_density(np.array(math.log(0.8)))))
    assert at == pytest.approx(mixture / within)
    assert integral(prior) == pytest.approx(1.0, abs=QUADRATURE)


def test_the_lens_has_the_cameras_own_prior(plate: Plate) -> None:
    camera = camera_prior(1200, 900, trimmed=False)  # a diagonal of 1500 px
    assert lens_prior(plate, DIAGONAL_PX, settings()).ln_c == camera.ln_c


def test_known_lens_integrates_to_one_within_its_limits(plate: Plate) -> None:
    scaled = replace(plate, px_per_mm=5.0)
    prior = lens_prior(scaled, DIAGONAL_PX, settings(270.0, 4.0))
    assert prior.known
    assert math.exp(prior.mean) == pytest.approx(270.0 * 5.0 / DIAGONAL_PX)
    assert integral(prior) == pytest.approx(1.0, abs=QUADRATURE)


def test_known_lens_is_screened_near_it_alone(plate: Plate) -> None:
    scaled = replace(plate, px_per_mm=5.0)
    prior = lens_prior(scaled, DIAGONAL_PX, settings(270.0, 4.0))
    assert np.abs(prior.grid() - prior.mean).max() < 3.0 * prior.sd
    free = lens_prior(plate, DIAGONAL_PX, settings()).grid()
    np.testing.assert_allclose(np.exp(free[[0, -1]]), LIMITS)


def test_correction_turns_the_climbs_density_into_the_priors(plate: Plate) -> None:
    prior = lens_prior(plate, DIAGONAL_PX, settings())
    ln_c = np.linspace(*prior.limits, 9)
    climbed = stats.norm(prior.mean, prior.sd).logpdf(ln_c)
    np.testing.assert_allclose(
        climbed + prior.correction(ln_c), prior.log_density(ln_c), rtol=1e-12
    )


@pytest.mark.parametrize("mean_mm", [20.0, 2000.0])
def test_limits_that_exclude_every_lens_are_refused(plate: Plate, mean_mm) -> None:
    scaled = replace(plate, px_per_mm=5.0)
    times = mean_mm * 5.0 / DIAGONAL_PX
    with pytest.raises(LensError) as caught:
        lens_prior(scaled, DIAGONAL_PX, settings(mean_mm, 4.0))
    told = str(caught.value)
    assert f"{mean_mm:g} mm is {times:.2f} times the diagonal" in told
    assert f"between {LIMITS[0]} and {LIMITS[1]} times" in told
    assert "--size" in told


def test_millimetres_without_a_scale_are_refused(plate: Plate) -> None:
    bare = replace(plate, px_per_mm=None, size_mm=None)
    with pytest.raises(LensError, match="neither the plate's size nor") as caught:
        lens_prior(bare, DIAGONAL_PX, settings(270.0, 4.0))
    assert "--scan-ppi" in str(caught.value)


def test_size_alone_of_a_trimmed_plate_leaves_more_doubt(plate: Plate) -> None:
    scaled = replace(plate, px_per_mm=5.0)
    sized = replace(plate, px_per_mm=None, size_mm=(240.0, 180.0), trimmed=True)
    by_scale = lens_prior(scaled, DIAGONAL_PX, settings(270.0, 4.0))
    by_size = lens_prior(sized, DIAGONAL_PX, settings(270.0, 4.0))
    assert by_size.mean == pytest.approx(by_scale.mean)
    assert by_size.sd > by_scale.sd


def limited(least_mm: float | None, most_mm: float | None) -> LocateSettings:
    return LocateSettings(
        principal_distance_least_mm=least_mm, principal_distance_most_mm=most_mm
    )


def test_a_lens_within_limits_is_an_unknown_one_cut_off_there(plate: Plate) -> None:
    scaled = replace(plate, px_per_mm=5.0)  # a diagonal of 300 mm
    prior = lens_prior(scaled, DIAGONAL_PX, limited(200.0, 320.0))
    assert not prior.known
    wider = 2.0 * 0.003  # twice the doubt of the scan's scale
    expected = [math.log(200.0 / 300.0) - wider, math.log(320.0 / 300.0) + wider]
    np.testing.assert_allclose(prior.limits, expected)
    assert integral(prior) == pytest.approx(1.0, abs=QUADRATURE)
    whole = lens_prior(scaled, DIAGONAL_PX, settings())
    at = np.log([0.7, 0.9])
    # Within the limits what is likelier stays so.
    np.testing.assert_allclose(
        np.diff(prior.log_density(at)), np.diff(whole.log_density(at))
    )
    assert prior.sd < whole.sd


def test_one_limit_is_enough(plate: Plate) -> None:
    scaled = replace(plate, px_per_mm=5.0)
    low, high = np.exp(lens_prior(scaled, DIAGONAL_PX, limited(270.0, None)).limits)
    assert low == pytest.approx(0.9, rel=0.01)
    assert high == pytest.approx(LONGEST_OVER_DIAGONAL)


def test_limits_that_no_lens_keeps_are_refused(plate: Plate) -> None:
    scaled = replace(plate, px_per_mm=5.0)
    with pytest.raises(LensError, match="30 to 60 mm"):
        lens_prior(scaled, DIAGONAL_PX, limited(30.0, 60.0))
    with pytest.raises(LensError, match="neither the plate's size"):
        lens_prior(replace(plate, px_per_mm=None), DIAGONAL_PX, limited(200.0, 300.0))


@pytest.mark.parametrize("limits", [(-5.0, None), (None, 0.0), (300.0, 200.0)])
def test_limits_that_cannot_be_are_refused(limits) -> None:
    with pytest.raises(LensError):
        limited(*limits)
