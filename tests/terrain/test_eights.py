"""Check arithmetic of eight lanes in a kernel against NumPy's on the same numbers."""

from __future__ import annotations

import numba
import numpy as np
import pytest

from wherestood.terrain.eights import (
    LANES,
    choose,
    fetch,
    fetch_pairs,
    floor_of,
    greater,
    how_many,
    lesser,
    load,
    one_over_power,
    root_of,
    spread,
    store,
)


@numba.njit(error_model="numpy")
def worked(first, second, answers):  # type: ignore[no-untyped-def]
    """Fill a row an operation, and return how many of two choices are true."""
    a = load(first)
    b = load(second)
    store(a + b, answers[0])
    store(a - 1.5, answers[1])
    store(2.0 * b, answers[2])
    store(a / b, answers[3])
    store(floor_of(a), answers[4])
    store(root_of(b), answers[5])
    store(lesser(a, b), answers[6])
    store(greater(a, 0.5), answers[7])
    store(choose((a > b) | (a <= -2.0), a, 7.0), answers[8])
    store(spread(3.25), answers[9])
    return how_many((a >= b) & (b < 2.0)), how_many(a == a)


@numba.njit(error_model="numpy")
def gathered(singles, doubles, powers, places, answers):  # type: ignore[no-untyped-def]
    """Fill a row a way of fetching."""
    at = load(places)
    one, other = fetch_pairs(singles, at)
    store(one, answers[0])
    store(other, answers[1])
    store(fetch(doubles, at), answers[2])
    store(one_over_power(load(powers)), answers[3])


def test_eights_are_reckoned_lane_by_lane() -> None:
    rng = np.random.default_rng(1)
    a = rng.normal(0.0, 2.0, LANES)
    b = rng.uniform(0.1, 4.0, LANES)
    answers = np.empty((10, LANES))
    chosen, all_lanes = worked(a, b, answers)
    expected = [
        a + b,
        a - 1.5,
        2.0 * b,
        a / b,
        np.floor(a),
        np.sqrt(b),
        np.minimum(a, b),
        np.maximum(a, 0.5),
        np.where((a > b) | (a <= -2.0), a, 7.0),
        np.full(LANES, 3.25),
    ]
    np.testing.assert_array_equal(answers, expected)
    assert chosen == np.sum((a >= b) & (b < 2.0))
    assert all_lanes == LANES


def test_a_lane_that_is_no_number_compares_as_false_and_gives_the_second() -> None:
    a = np.full(LANES, np.nan)
    b = np.full(LANES, 1.0)
    answers = np.empty((10, LANES))
    chosen, all_lanes = worked(a, b, answers)
    assert (chosen, all_lanes) == (0, 0)
    assert np.all(answers[6] == 1.0)
    assert np.all(answers[7] == 0.5)
    assert np.all(answers[8] == 7.0)


@pytest.mark.parametrize("seed", range(3))
def test_fetched_numbers_are_those_at_the_places(seed) -> None:
    rng = np.random.default_rng(seed)
    singles = rng.normal(size=50).astype(np.float32)
    doubles = rng.normal(size=50)
    places = rng.integers(0, 49, LANES)
    powers = 2.0 ** rng.integers(-12, 12, LANES)
    answers = np.empty((4, LANES))
    gathered(singles, doubles, powers, places.astype(np.float64), answers)
    np.testing.assert_array_equal(answers[0], singles[places])
    np.testing.assert_array_equal(answers[1], singles[places + 1])
    np.testing.assert_array_equal(answers[2], doubles[places])
    np.testing.assert_array_equal(answers[3], 1.0 / powers)
