from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from wherestood.earth.frame import Frame
from wherestood.evidence.items import Hidden, Seen
from wherestood.evidence.placed import PlacedFeature, Placement
from wherestood.evidence.stations import Stations
from wherestood.evidence.visibility import (
    SightNoise,
    blocking,
    in_sight,
    weigh_hidden,
    weigh_seen,
)
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain

CELL_M = 20.0
WALL_NORTH_M = 1000.0
WALL_M = 100.0
RADIUS_M = 6_371_000.0
#: Heights are kept as 32-bit numbers.
ONE_MILLIMETRE = 1e-3
SHARP = SightNoise(0.01, 0.0, 0.01)


@pytest.fixture(scope="module")
def model() -> HorizonModel:
    """Return flat ground with a wall from west to east, 1 km north."""
    heights = np.zeros((201, 101), dtype=np.float32)
    heights[int(WALL_NORTH_M / CELL_M) + 50] = WALL_M
    terrain = Terrain(heights, -1000.0, -1000.0, CELL_M, Frame.local(8.5, 46.1))
    return HorizonModel.of(terrain, RADIUS_M)


def feature(
    name: str, north_m: float, top_m: float, east_m: float = 0.0, sd_m: float = 1.0
) -> PlacedFeature:
    one, nought = np.ones(1), np.zeros(1)
    return PlacedFeature(
        name, "", east_m * one, north_m * one, one, sd_m, 0.0, nought, nought, nought,
        0.5, top_m, 0.5,
    )  # fmt: skip


def ground(*features: PlacedFeature) -> Placement:
    return Placement({f.id: f for f in features}, {})


def eye(*heights_m: float) -> Stations:
    count = len(heights_m)
    return Stations(
        np.zeros(count), np.zeros(count), np.array(heights_m), RADIUS_M, lens_sd_m=0.01
    )


def test_wall_is_what_stands_before_a_feature(model: HorizonModel) -> None:
    placement = ground(feature("spire", 2000.0, 30.0))
    found = blocking(model, eye(2.0), placement.candidates("spire", "top"))
    drop_m = 0.87 * WALL_NORTH_M**2 / (2.0 * RADIUS_M)
    expected = (WALL_M - 2.0 - drop_m) / WALL_NORTH_M
    assert found.tangent[0, 0] == pytest.approx(expected, abs=1e-3 * ONE_MILLIMETRE)
    assert found.distance_m[0, 0] == pytest.approx(WALL_NORTH_M, abs=ONE_MILLIMETRE)


def test_what_stands_behind_a_feature_hides_nothing(model: HorizonModel) -> None:
    placement = ground(feature("spire", 900.0, 30.0))
    chance = in_sight(model, eye(2.0), placement.candidates("spire", "top"), SHARP)
    assert chance[0, 0] == pytest.approx(1.0, abs=1e-6)


def test_eye_sees_over_the_wall_from_high_enough(model: HorizonModel) -> None:
    """The line from the wall's top to the spire's, carried back: 170 m less drops."""
    top = ground(feature("spire", 2000.0, 30.0)).candidates("spire", "top")
    drops_m = [0.87 * d**2 / (2.0 * RADIUS_M) for d in (1000.0, 2000.0)]
    level_m = 2.0 * (WALL_M - drops_m[0]) - (30.0 - drops_m[1])
    chance = in_sight(model, eye(level_m - 5.0, level_m, level_m + 5.0), top, SHARP)
    assert chance[0, 0] < 1e-3
    assert chance[1, 0] == pytest.approx(0.5, abs=0.01)
    assert chance[2, 0] > 0.999


def test_step_is_as_soft_as_the_cover_on_the_crest(model: HorizonModel) -> None:
    top = ground(feature("spire", 2000.0, 400.0)).candidates("spire", "top")
    noise = SightNoise(terrain_sd_m=6.0, cover_mean_m=10.0, cover_sd_m=8.0)
    chance = in_sight(model, eye(2.0), top, noise)[0, 0]
    draw = np.random.default_rng(1)
    crest = WALL_M + 10.0 + draw.normal(0.0, 10.0, 40_000)
    spire = 400.0 + draw.normal(0.0, math.hypot(0.5, 0.5), 40_000)
    drops = [0.87 * d**2 / (2.0 * RADIUS_M) for d in (1000.0, 2000.0)]
    share = np.mean((spire - 2.0 - drops[1]) / 2000.0 > (crest - 2.0 - drops[0]) / 1e3)
    assert chance == pytest.approx(share, abs=0.01)
    lower = replace(top, height_m=np.array([215.0]))
    share = np.mean((spire - 187.0 - drops[1]) / 2000.0 > (crest - 2 - drops[0]) / 1e3)
    assert in_sight(model, eye(2.0), lower, noise)[0, 0] == pytest.approx(
        share, abs=0.01
    )


def test_seen_and_hidden_are_each_others_complement(model: HorizonModel) -> None:
    placement = ground(feature("low", 2000.0, 30.0), feature("near", 900.0, 30.0))
    stations = eye(2.0)
    likely = {
        (name, shows): math.exp(weighed.log_likelihood[0])
        for name in ("low", "near")
        for shows, weighed in (
            (True, weigh_seen(Seen(name), placement, model, stations, SHARP)),
            (False, weigh_hidden(Hidden(name), placement, model, stations, SHARP)),
        )
    }
    assert likely["near", True] == pytest.approx(0.975, abs=1e-3)
    assert likely["low", True] == pytest.approx(0.025, abs=1e-3)
    assert likely["low", False] == pytest.approx(0.975, abs=1e-3)
    # In plain sight, and two times in ten not made out all the same.
    assert likely["near", False] == pytest.approx(0.95 * 0.2 + 0.025, abs=1e-3)


def test_what_the_picture_leaves_out_is_not_hidden(model: HorizonModel) -> None:
    placement = ground(feature("near", 900.0, 30.0))
    weighed = weigh_hidden(
        Hidden("near"), placement, model, eye(2.0), SHARP, np.zeros(1)
    )
    assert math.exp(weighed.log_likelihood[0]) == pytest.approx(0.975)


def test_own_ground_does_not_hide_a_feature(model: HorizonModel) -> None:
    """A cross on the wall itself shows its foot."""
    placement = ground(feature("cross", WALL_NORTH_M, WALL_M))
    chance = in_sight(model, eye(2.0), placement.candidates("cross", "top"), SHARP)
    assert chance[0, 0] == pytest.approx(1.0, abs=1e-3)


def test_beyond_the_terrain_nobody_knows(model: HorizonModel) -> None:
    high = ground(feature("summit", 9000.0, 3000.0)).candidates("summit", "top")
    low = ground(feature("summit", 9000.0, 30.0)).candidates("summit", "top")
    assert in_sight(model, eye(2.0), high, SHARP)[0, 0] == pytest.approx(0.5, abs=1e-3)
    assert in_sight(model, eye(2.0), low, SHARP)[0, 0] == pytest.approx(0.0, abs=1e-3)


def test_height_not_known_is_even_odds(model: HorizonModel) -> None:
    top = ground(feature("spire", 2000.0, math.nan)).candidates("spire", "top")
    assert in_sight(model, eye(2.0), top, SHARP)[0, 0] == 0.5
