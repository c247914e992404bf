"""Check the horizon of raised ground against that seen from a lowered lens."""

import numpy as np
import pytest

from wherestood.earth.frame import Frame
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain

CELL_M = 30.0
FROM_M = 400.0
BEARINGS_RAD = np.arange(720) * 2.0 * np.pi / 720
# Sums in float64 of heights of a few hundred metres, in another order.
ROUNDING = 1e-12


@pytest.fixture(scope="module")
def model() -> HorizonModel:
    """Return rough ground with a hole in it."""
    rng = np.random.default_rng(8)
    j, i = np.indices((140, 150))
    height_m = np.zeros(i.shape)
    for waves in range(1, 25):
        turn, phase = rng.uniform(0.0, np.pi, 2)
        along = (i * np.cos(turn) + j * np.sin(turn)) * waves * 2.0 * np.pi / 150.0
        height_m += 120.0 / waves * np.sin(along + phase)
    height_m[90:96, 40:47] = np.nan
    land = Terrain(
        height_m.astype(np.float32), 0.0, 0.0, CELL_M, Frame.local(7.0, 46.0)
    )
    return HorizonModel.of(land)


@pytest.fixture(scope="module")
def stations():
    """Return stations near the ground, one off it, one without a height."""
    rng = np.random.default_rng(9)
    east_m, north_m = rng.uniform(900.0, 3300.0, (2, 12))
    height_m = rng.uniform(60.0, 200.0, 12)
    east_m[0] = -500.0
    height_m[1] = np.nan
    return east_m, north_m, height_m


@pytest.mark.parametrize("lift_m", [0.0, 2.0, 6.0, 60.0])
def test_raising_far_ground_is_lowering_the_lens(model, stations, lift_m) -> None:
    east_m, north_m, height_m = stations
    _, raised = model.horizons_and_raised(
        *stations, BEARINGS_RAD, lift_m=lift_m, lift_from_m=FROM_M
    )
    lowered = model.horizons(
        east_m, north_m, height_m - lift_m, BEARINGS_RAD, nearest_m=FROM_M
    )
    np.testing.assert_allclose(raised, lowered.tangent, rtol=0.0, atol=ROUNDING)
    assert np.isneginf(raised[1]).all()
    assert np.isfinite(raised[2:]).mean() > 0.9


def test_the_horizon_beside_the_raised_one_is_the_horizon(model, stations) -> None:
    beside, _ = model.horizons_and_raised(
        *stations, BEARINGS_RAD, lift_m=6.0, lift_from_m=FROM_M
    )
    alone = model.horizons(*stations, BEARINGS_RAD)
    np.testing.assert_allclose(beside.tangent, alone.tangent, rtol=0.0, atol=ROUNDING)
    np.testing.assert_allclose(beside.distance_m, alone.distance_m, atol=1e-6)


def test_ground_raised_only_beyond_the_rays_end_is_not_seen(model, stations) -> None:
    _, raised = model.horizons_and_raised(
        *stations, BEARINGS_RAD, lift_m=6.0, lift_from_m=2000.0, farthest_m=1500.0
    )
    assert np.isneginf(raised).all()


def test_raised_ground_from_the_rays_start_on_counts_from_there(
    model, stations
) -> None:
    east_m, north_m, height_m = stations
    _, raised = model.horizons_and_raised(
        *stations, BEARINGS_RAD, lift_m=6.0, lift_from_m=0.0
    )
    lowered = model.horizons(east_m, north_m, height_m - 6.0, BEARINGS_RAD)
    np.testing.assert_allclose(raised, lowered.tangent, rtol=0.0, atol=ROUNDING)


def test_lowering_the_ground_is_refused(model, stations) -> None:
    with pytest.raises(ValueError, match="raised by 0 m or more, not -1"):
        model.horizons_and_raised(
            *stations, BEARINGS_RAD, lift_m=-1.0, lift_from_m=FROM_M
        )


def test_bearings_wanted_alone_are_looked_at(model, stations) -> None:
    wanted = np.random.default_rng(10).uniform(size=(12, 720)) < 0.3
    options = {"lift_m": 6.0, "lift_from_m": FROM_M}
    every, every_raised = model.horizons_and_raised(*stations, BEARINGS_RAD, **options)
    some, raised = model.horizons_and_raised(
        *stations, BEARINGS_RAD, wanted=wanted, **options
    )
    for part, whole in ((some.tangent, every.tangent), (raised, every_raised)):
        np.testing.assert_allclose(part[wanted], whole[wanted], atol=ROUNDING)
        assert np.isneginf(part[~wanted]).all()
    np.testing.assert_allclose(
        some.distance_m[wanted], every.distance_m[wanted], atol=1e-6
    )
    assert np.isnan(some.distance_m[~wanted]).all()


def test_wanted_of_another_shape_is_refused(model, stations) -> None:
    with pytest.raises(ValueError, match="must have the shape"):
        model.horizons(*stations, BEARINGS_RAD, wanted=np.ones((1, 720), dtype=bool))
