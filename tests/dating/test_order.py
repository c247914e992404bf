"""Check plates dated together by which is older."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray

from wherestood.dating.order import Older, order_together
from wherestood.errors import EvidenceError

A_SHARE = 0.02  # what draws leave in doubt where pairs form a ring


def summed_out(
    alone: dict[str, NDArray[np.float64]], pairs: list[Older]
) -> dict[str, NDArray[np.float64]]:
    """Return the same by going through every combination of months."""
    keys = list(alone)
    found = {key: np.zeros(len(alone[key])) for key in keys}
    for months in product(*(range(len(alone[key])) for key in keys)):
        at = dict(zip(keys, months, strict=True))
        weight = float(np.prod([alone[key][at[key]] for key in keys]))
        for pair in pairs:
            fits = at[pair.older] <= at[pair.younger]
            weight *= pair.trust if fits else 1.0 - pair.trust
        for key in keys:
            found[key][at[key]] += weight
    return {key: weights / weights.sum() for key, weights in found.items()}


def plates(seed: int, names: str, months: int) -> dict[str, NDArray[np.float64]]:
    random = np.random.default_rng(seed)
    return {name: random.dirichlet(np.ones(months)) for name in names}


def test_a_chain_and_a_fork_agree_with_every_combination() -> None:
    alone = plates(1, "abcd", 6)
    pairs = [Older("a", "b"), Older("b", "c", trust=0.8), Older("d", "b", trust=0.9)]
    found = order_together(alone, pairs, np.random.default_rng(0))
    assert found is not None
    for key, wanted in summed_out(alone, pairs).items():
        assert found[key] == pytest.approx(wanted, abs=1e-12)


def test_a_ring_of_pairs_agrees_with_every_combination() -> None:
    alone = plates(2, "abc", 8)
    pairs = [Older("a", "b"), Older("b", "c", trust=0.9), Older("a", "c", trust=0.7)]
    found = order_together(alone, pairs, np.random.default_rng(0))
    assert found is not None
    for key, wanted in summed_out(alone, pairs).items():
        assert found[key] == pytest.approx(wanted, abs=A_SHARE)


def test_plates_each_older_than_the_other_have_no_answer() -> None:
    alone = {"a": np.array([0.5, 0.5, 0.0]), "b": np.array([0.0, 0.0, 1.0])}
    assert order_together(alone, [Older("b", "a")], np.random.default_rng(0)) is None
    ring = [Older("a", "b"), Older("b", "a")]
    assert order_together(alone, ring, np.random.default_rng(0)) is None


def test_two_plates_of_one_month_satisfy_their_order() -> None:
    alone = {"a": np.array([0.0, 1.0]), "b": np.array([0.5, 0.5])}
    found = order_together(alone, [Older("a", "b")], np.random.default_rng(0))
    assert found is not None
    assert found["b"] == pytest.approx([0.0, 1.0])


def test_orders_that_cannot_be_meant_are_refused() -> None:
    with pytest.raises(EvidenceError, match="older than itself"):
        Older("a", "a")
    with pytest.raises(EvidenceError, match="between 0 and 1"):
        Older("a", "b", trust=2.0)
    with pytest.raises(EvidenceError, match="'c'"):
        order_together(
            {"a": np.ones(2) / 2}, [Older("a", "c")], np.random.default_rng(0)
        )
