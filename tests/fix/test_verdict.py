"""Check that a verdict is given only where what it says holds."""

from dataclasses import replace

import numpy as np
import pytest

from wherestood.fix.posterior import find_places, posterior_of
from wherestood.fix.verdict import (
    CHANCE_POWER,
    MOST_ELSEWHERE,
    PRIOR_ELSEWHERE,
    chance_elsewhere,
    judge,
)

SIDE_M = 20.0
SURE = 0.99
NOWHERE_ELSE = 0.001


@pytest.fixture
def peaked(make_cells):
    """Return the function that makes a posterior of round peaks."""

    def made(*peaks, spread_m=15.0):
        at_m = np.arange(-1990.0, 2000.0, SIDE_M)
        east, north = (part.ravel() for part in np.meshgrid(at_m, at_m))
        density = 1e-30 + sum(
            share * np.exp(-0.5 * ((east - e) ** 2 + (north - n) ** 2) / spread_m**2)
            for e, n, share in peaks
        )
        return posterior_of(make_cells(east, north, SIDE_M, np.log(density)))

    return made


def judged(problem, posterior, elsewhere=NOWHERE_ELSE, doubled=SURE, chance=0.001):
    places = find_places(posterior, problem.settings.near_enough_m, 6)
    return judge(problem, posterior, places, elsewhere, doubled, chance)


def test_one_sure_place_is_located(problem, peaked) -> None:
    found = judged(problem, peaked((100.0, 300.0, 1.0)))
    assert found.verdict == "located"
    (reason,) = found.reasons
    assert "within 125 m of one place" in reason


def test_located_asks_for_the_whole_probability_in_one_circle(problem, peaked) -> None:
    wide = peaked((100.0, 300.0, 1.0), spread_m=250.0)
    found = judged(problem, wide)
    assert found.verdict != "located"
    assert "is needed" in found.reasons[0]


def test_located_asks_for_little_elsewhere(problem, peaked) -> None:
    found = judged(problem, peaked((100.0, 300.0, 1.0)), elsewhere=0.6)
    assert found.verdict == "not determined"
    (reason,) = found.reasons
    assert "outside the ground searched is 60%" in reason


def test_located_asks_that_doubling_every_doubt_leaves_it(problem, peaked) -> None:
    found = judged(problem, peaked((100.0, 300.0, 1.0)), doubled=0.2)
    assert found.verdict != "located"
    (reason,) = found.reasons
    assert "only 20% stays there" in reason


def test_located_asks_that_the_ring_explains_less(problem, peaked) -> None:
    posterior = replace(peaked((100.0, 300.0, 1.0)), ring=0.9)
    found = judged(problem, posterior)
    assert found.verdict == "not determined"
    assert any("just outside the area" in reason for reason in found.reasons)


def test_located_asks_that_nothing_lies_along_the_edge(problem, peaked) -> None:
    found = judged(problem, peaked((1990.0, 300.0, 1.0)))
    assert found.verdict != "located"
    assert any("along the edge of the area" in reason for reason in found.reasons)


def test_few_separate_peaks_are_several_places(problem, peaked) -> None:
    found = judged(problem, peaked((0.0, 0.0, 0.5), (1200.0, 900.0, 0.5)))
    assert found.verdict == "several places"
    assert found.reasons[0].startswith("50% of the probability")


def test_a_flat_answer_is_not_determined(problem, make_cells) -> None:
    at_m = np.arange(-1950.0, 2000.0, 100.0)
    east, north = (part.ravel() for part in np.meshgrid(at_m, at_m))
    flat = posterior_of(make_cells(east, north, 100.0, np.zeros(east.size)))
    assert judged(problem, flat).verdict == "not determined"


def test_elsewhere_is_a_probability_that_rises_with_ring_and_chance() -> None:
    steps = np.linspace(0.0, 1.0, 21)
    table = np.array([[chance_elsewhere(r, c) for c in steps] for r in steps])
    assert np.all((table >= 0.0) & (table <= 1.0))
    # All in the ring is all elsewhere, whatever chance says.
    assert np.all(np.diff(table[:-1], axis=1) > 0.0)
    assert np.all(np.diff(table, axis=0) > 0.0)


def test_nothing_in_the_ring_and_no_chance_is_nothing_elsewhere() -> None:
    assert chance_elsewhere(0.0, 0.0) == pytest.approx(0.0, abs=1e-12)
    assert chance_elsewhere(1.0, 0.0) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("chance", [0.1, 0.2, 0.5, 1.0])
def test_a_match_that_any_skyline_gives_leaves_no_place_located(
    problem, peaked, chance: float
) -> None:
    elsewhere = chance_elsewhere(0.0, chance)
    assert elsewhere > MOST_ELSEWHERE
    found = judged(
        problem, peaked((100.0, 300.0, 1.0)), elsewhere=elsewhere, chance=chance
    )
    assert found.verdict != "located"


def test_elsewhere_is_bayes_theorem_over_drawn_chances() -> None:
    """Draw plates from inside and elsewhere, and count those of a like chance."""
    rng = np.random.default_rng(4)
    count = 2_000_000
    away = rng.random(count) < PRIOR_ELSEWHERE
    # Of a right match p is an even draw to the power 1/a: density a p^(a - 1).
    right = rng.random(count) ** (1.0 / CHANCE_POWER)
    chance = np.where(away, rng.random(count), right)
    for middle in (0.02, 0.1, 0.4, 0.9):
        like = np.abs(chance / middle - 1.0) < 0.05
        drawn = away[like].mean()
        error = 3.0 * np.sqrt(drawn * (1.0 - drawn) / like.sum())
        assert chance_elsewhere(0.0, middle) == pytest.approx(drawn, abs=error + 5e-4)


def test_a_chance_that_was_not_tried_reassures_nobody(problem, peaked) -> None:
    untried = chance_elsewhere(0.0, np.nan)
    assert untried == pytest.approx(PRIOR_ELSEWHERE)
    found = judged(
        problem, peaked((100.0, 300.0, 1.0)), elsewhere=untried, chance=np.nan
    )
    assert found.verdict == "not determined"
    assert any("could not be tried" in reason for reason in found.reasons)
    two = peaked((0.0, 0.0, 0.5), (1200.0, 900.0, 0.5))
    assert judged(problem, two, chance=np.nan).verdict == "not determined"
