from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from wherestood.camera.priors import camera_prior
from wherestood.evidence.distance import BLUNDER_SPAN_M, weigh_distance
from wherestood.evidence.items import KnownDistance, Order
from wherestood.evidence.lean import Lean
from wherestood.evidence.order import weigh_order
from wherestood.evidence.placed import PlacedFeature, Placement
from wherestood.evidence.stations import Stations

LEAN = Lean.of(camera_prior(4000, 3000, trimmed=False))
NOTHING = 1e-6
#: 40 000 draws give a share to 0.0025, one sd.
SHARE = 0.01
COUNT = 40_000


def feature(
    name: str, east_m: float, north_m: float, foot_m: float = 0.0, sd_m: float = 5.0
) -> PlacedFeature:
    one = np.ones(1)
    nought = np.zeros(1)
    return PlacedFeature(
        name, "", east_m * one, north_m * one, one, sd_m, 0.0, foot_m * one, nought,
        nought, 3.0, 20.0, 2.0,
    )  # fmt: skip


def ground(*features: PlacedFeature) -> Placement:
    return Placement({f.id: f for f in features}, {})


HERE = Stations(np.zeros(1), np.zeros(1), np.zeros(1))


def test_clear_orders_are_as_good_as_their_trust() -> None:
    placement = ground(feature("a", -50.0, 1000.0), feature("b", 50.0, 1000.0))
    right = weigh_order(Order("a", "b"), placement, HERE, LEAN)
    wrong = weigh_order(Order("b", "a"), placement, HERE, LEAN)
    assert math.exp(right.log_likelihood[0]) == pytest.approx(0.975, abs=1e-3)
    assert math.exp(wrong.log_likelihood[0]) == pytest.approx(0.025, abs=NOTHING)
    assert right.blunder[0] < 0.03
    assert wrong.blunder[0] > 0.99


def test_orders_either_way_have_probability_one_between_them() -> None:
    placement = ground(feature("a", 2.0, 1000.0), feature("b", 0.0, 1500.0))
    both = [
        math.exp(weigh_order(order, placement, HERE, LEAN).log_likelihood[0])
        for order in (Order("a", "b"), Order("a", "b", relation="right of"))
    ]
    assert sum(both) == pytest.approx(1.0, abs=NOTHING)


def test_soft_step_is_the_share_of_drawn_features() -> None:
    draw = np.random.default_rng(2)
    placed = (feature("a", 0.0, 1000.0), feature("b", 6.0, 1500.0))
    east, north = draw.normal(0.0, 5.0, (2, 2, COUNT))
    bearing = [
        np.arctan2(one.east_m + east[i], one.north_m + north[i])
        for i, one in enumerate(placed)
    ]
    reading = draw.normal(0.0, math.radians(0.05), COUNT)
    share = np.mean(bearing[1] - bearing[0] + reading > 0.0)
    order = Order("a", "b", trust=1.0)
    found = weigh_order(order, ground(*placed), HERE, LEAN)
    assert math.exp(found.log_likelihood[0]) == pytest.approx(share, abs=SHARE)


def test_above_compares_elevations_with_both_heights_drawn() -> None:
    draw = np.random.default_rng(4)
    placed = (
        feature("a", 0.0, 1000.0, 42.0, 0.01),
        feature("b", 5.0, 2000.0, 100.0, 0.01),
    )
    lens = draw.normal(0.0, 3.0, COUNT)
    tangent = [
        (one.foot_m + 20.0 + draw.normal(0.0, math.hypot(3.0, 2.0), COUNT) - lens)
        / one.north_m
        - one.north_m * 0.87 / (2.0 * 6_371_008.8)
        for one in placed
    ]
    share = np.mean(tangent[0] + draw.normal(0, math.radians(0.05), COUNT) > tangent[1])
    order = Order("a", "b", relation="above", trust=1.0)
    found = weigh_order(order, ground(*placed), HERE, LEAN)
    assert math.exp(found.log_likelihood[0]) == pytest.approx(share, abs=SHARE)


def test_gap_softens_the_step() -> None:
    placement = ground(
        feature("a", -10.0, 1000.0, sd_m=0.1), feature("b", 0.0, 1000.0, sd_m=0.1)
    )
    touching, apart = (
        weigh_order(order, placement, HERE, LEAN).log_likelihood[0]
        for order in (Order("a", "b"), Order("a", "b", touching=False, gap_share=0.5))
    )
    assert apart < touching
    upward = [
        weigh_order(order, placement, HERE, LEAN).log_likelihood[0]
        for order in (
            Order("a", "b", relation="above", at="ground"),
            Order("a", "b", relation="above", at="ground", touching=False),
        )
    ]
    # As high as one another: no gap tells them apart.
    np.testing.assert_allclose(upward, math.log(0.5), atol=1e-2)


def test_no_picture_holds_what_lies_on_either_side() -> None:
    placement = ground(feature("a", -1000.0, -10.0), feature("b", 1000.0, -10.0))
    both = [
        weigh_order(order, placement, HERE, LEAN).log_likelihood[0]
        for order in (Order("a", "b"), Order("b", "a"))
    ]
    np.testing.assert_allclose(np.exp(both), 0.025, atol=1e-4)


def test_height_not_known_says_nothing_of_above() -> None:
    placement = ground(
        feature("a", 0.0, 1000.0, math.nan), feature("b", 5.0, 1000.0, 30.0)
    )
    order = Order("a", "b", relation="above")
    found = weigh_order(order, placement, HERE, LEAN).log_likelihood[0]
    assert found == pytest.approx(math.log(0.5), abs=1e-3)


def test_stated_distance_has_density_one() -> None:
    placement = ground(feature("a", 0.0, 400.0, sd_m=20.0))
    stated = np.arange(1.0, 2000.0, 1.0)
    item = KnownDistance("a", 1.0, 30.0, trust=1.0)
    total = sum(
        math.exp(
            weigh_distance(
                replace(item, distance_m=float(distance)), placement, HERE
            ).log_likelihood[0]
        )
        for distance in stated
    )
    assert total == pytest.approx(1.0, abs=1e-4)


def test_wrong_distance_costs_no_more_than_its_odds() -> None:
    placement = ground(feature("a", 0.0, 4000.0))
    found = weigh_distance(KnownDistance("a", 100.0, 10.0), placement, HERE)
    floor = math.log(0.05 / BLUNDER_SPAN_M)
    assert found.log_likelihood[0] == pytest.approx(floor, abs=NOTHING)
    assert found.blunder[0] == pytest.approx(1.0)
