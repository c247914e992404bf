"""Test that gaps between near and far things lead to the very spot."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wherestood.visit.modern_lens import modern_lenses
from wherestood.visit.parallax import (
    SeenThing,
    parallax_pairs,
    way_to_go,
    way_to_picture,
)

READING_RAD = np.radians(0.1)
HALF_A_METRE, ONE_CENTIMETRE = 0.5, 0.01
C_PX = 3000.0


def thing(name, east, north, sd=0.0):
    return SeenThing(name, east, north, sd, 0.0, 0.0)


def gap(pair, at):
    def bearing(one):
        return np.arctan2(one.east_m - at[0], one.north_m - at[1])

    off = bearing(pair.far) - bearing(pair.near)
    return (off + np.pi) % (2 * np.pi) - np.pi


def gap_of(real, pair, at):
    """Return a pair's gap as the real things show it, wherever the map has them."""
    return gap(replace(pair, near=real[pair.near.name], far=real[pair.far.name]), at)


THINGS = [
    thing("gate post", -8.0, 26.0),
    thing("boulder", 6.0, 34.0),
    thing("well", 14.0, 22.0),
    thing("church", -90.0, 700.0),
    thing("rock", 210.0, 900.0),
    thing("mill", 420.0, 800.0),
    thing("summit", 100.0, 5200.0),
]


def test_step_to_the_right_opens_the_gap_as_told():
    pair = parallax_pairs(THINGS, (0.0, 0.0), C_PX, most=1)[0]
    right = np.array([np.cos(pair.near_rad), -np.sin(pair.near_rad)])
    step_m = 0.1
    grown = gap(pair, step_m * right) - pair.gap_rad
    told = np.radians(step_m / pair.m_per_deg)
    assert grown == pytest.approx(told, rel=0.02)
    assert pair.px_per_m == pytest.approx(C_PX * told / step_m, rel=1e-9)
    assert pair.m_per_finger == pytest.approx(2.0 * pair.m_per_deg)


#: Standard errors of the demo's fix across and along its sight [m]: a long region.
DEMO_SPREAD_M = (9.0, 33.0)
#: Nine in ten of a plane's scatter lie within this squared distance (chi-squared, 2).
NINE_IN_TEN = 4.605


@pytest.mark.parametrize("spread_m", [(7.0, 7.0), DEMO_SPREAD_M])
def test_photographer_arrives_in_three_steps_where_near_things_stand(spread_m):
    """From anywhere in the 90% region, reading three pairs to a tenth of a degree."""
    rng = np.random.default_rng(41)
    pairs = parallax_pairs(THINGS, (0.0, 0.0), C_PX, most=3)
    assert len(pairs) == 3
    begins = rng.normal(size=(250, 2))
    begins = begins[(begins**2).sum(axis=1) < NINE_IN_TEN] * spread_m
    assert len(begins) > 200
    left = []
    for at in begins:
        for _ in range(3):
            read = [gap(pair, at) + rng.normal(0.0, READING_RAD) for pair in pairs]
            move = way_to_go(pairs, read, READING_RAD)
            at = at + np.array([move.east_m, move.north_m])
        left.append(np.hypot(*at))
    assert np.median(left) < HALF_A_METRE
    assert np.quantile(left, 0.9) < HALF_A_METRE


#: How far off a map may have things, either way [m]; a mark on the plate [px].
MAP_SD_M, MARK_SD_PX = 3.0, 2.0


@pytest.mark.parametrize("spread_m", [(7.0, 7.0), DEMO_SPREAD_M])
def test_photographer_arrives_by_the_pictures_gaps_though_fix_and_map_are_wrong(
    spread_m,
) -> None:
    """The camera stood at nought; the fix, the map and every reading are wrong."""
    rng = np.random.default_rng(43)
    left = []
    for _ in range(80):
        spot, at = rng.normal(size=(2, 2)).clip(-2.1, 2.1) * spread_m
        drawn = [
            SeenThing(
                one.name, one.east_m + rng.normal(0.0, MAP_SD_M),
                one.north_m + rng.normal(0.0, MAP_SD_M), MAP_SD_M,
                C_PX * np.arctan2(one.east_m, one.north_m), 0.0, MARK_SD_PX,
            )
            for one in THINGS
        ]  # fmt: skip
        real = {one.name: one for one in THINGS}
        pairs = [
            replace(
                pair,
                picture_rad=gap_of(real, pair, (0.0, 0.0))
                + rng.normal(0.0, np.sqrt(2.0) * MARK_SD_PX / C_PX),
                picture_sd_rad=np.sqrt(2.0) * MARK_SD_PX / C_PX,
            )
            for pair in parallax_pairs(drawn, tuple(spot), C_PX, most=3)
        ]
        assert len(pairs) == 3
        for _ in range(3):
            read = [
                gap_of(real, pair, at) + rng.normal(0.0, READING_RAD) for pair in pairs
            ]
            move = way_to_picture(pairs, read, READING_RAD, tuple(spot))
            assert move is not None
            at = at + np.array([move.east_m, move.north_m])
        left.append(np.hypot(*at))
    assert np.median(left) < HALF_A_METRE
    assert np.quantile(left, 0.75) < HALF_A_METRE


def test_a_picture_that_tells_no_gap_leaves_the_way_open() -> None:
    pairs = parallax_pairs(THINGS, (0.0, 0.0), C_PX, most=3)
    assert way_to_picture(pairs, [0.1] * 3, READING_RAD, (0.0, 0.0)) is None


def test_doubt_of_the_step_is_what_readings_make_it():
    rng = np.random.default_rng(42)
    pairs = parallax_pairs(THINGS, (0.0, 0.0), C_PX, most=3)
    off = []
    for _ in range(400):
        read = [pair.gap_rad + rng.normal(0.0, READING_RAD) for pair in pairs]
        move = way_to_go(pairs, read, READING_RAD)
        off.append((move.east_m, move.north_m))
    assert np.std([east for east, _ in off]) == pytest.approx(move.sd_east_m, rel=0.15)
    assert np.std([north for _, north in off]) == pytest.approx(
        move.sd_north_m, rel=0.15
    )


def test_far_things_alone_tell_no_step():
    far = [one for one in THINGS if one.north_m > 3000.0]
    far += [thing("peak", -500.0, 7000.0), thing("knoll", 0.0, 6100.0)]
    assert parallax_pairs(far, (0.0, 0.0), C_PX) == []


def test_wide_view_takes_a_short_lens():
    """A plate as wide as its lens is long: 36 mm wide at 36 mm."""
    lens = modern_lenses(3000.0, 2000.0, 3000.0, 30.0)[0]
    assert lens.focal_mm == pytest.approx(36.0)
    assert lens.aside_mm == pytest.approx(0.36)
    assert not lens.upright
    tall = modern_lenses(2000.0, 3000.0, 3000.0, 0.0)[0]
    assert tall.upright
    assert tall.focal_mm == pytest.approx(36.0)
    # A rise of an eighth of the height must be held by a level camera.
    risen = modern_lenses(3000.0, 2000.0, 3000.0, 0.0, rise_px=250.0)[0]
    assert risen.focal_mm == pytest.approx(24.0 * 3000.0 / 2500.0)
