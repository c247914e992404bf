"""Check what is believed of the turns between the plates of a panorama."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wherestood.evidence.items.tie import TieMark
from wherestood.evidence.ties import TieTable
from wherestood.fix.beside import (
    Beside,
    joint_prior,
    turn_log_density,
    turns_believed,
    turns_tied,
)

LN_C = np.log(0.95)


@pytest.fixture
def panorama(problem):
    """Return the function that makes three like plates of one, with ties."""

    def made(*pairs: tuple[int, int], one_lens: bool = True):
        samples = problem.hands[0].samples
        size = (samples.width_px, samples.height_px)
        # What is far right on the one is far left on the other.
        places = {"first_px": (size[0] - 20.0, 400.0), "second_px": (20.0, 400.0)}
        marks = [TieMark(plates=(f"{a}", f"{b}"), **places) for a, b in pairs]
        table = TieTable.of(marks, list(pairs), [size] * 3)
        beside = Beside((problem, problem), table, table, one_lens, np.zeros(3))
        return replace(problem, beside=beside)

    return made


def orders(problem, *, mirrored: bool = False) -> list[list[int]]:
    turns = turns_tied(problem.plates, problem.beside, mirrored=mirrored)
    return turns.orders.tolist()


def test_tied_plates_hang_as_their_ties_say(panorama) -> None:
    assert orders(panorama((2, 0), (0, 1))) == [[2, 0, 1]]


def test_mirrored_plates_hang_the_other_way_round(panorama) -> None:
    assert orders(panorama((2, 0), (0, 1)), mirrored=True) == [[1, 0, 2]]


def test_untied_plates_may_hang_in_any_order_and_likeliest_as_given(panorama) -> None:
    turns = turns_tied(panorama().plates, panorama().beside, mirrored=False)
    assert len(turns.orders) == 6
    likeliest = turns.orders[int(np.argmax(turns.log_weight))]
    assert likeliest.tolist() == [0, 1, 2]
    assert np.exp(turns.log_weight).sum() == pytest.approx(1.0)


def test_a_plate_without_ties_hangs_on_either_side(panorama) -> None:
    assert sorted(orders(panorama((0, 1)))) == [[0, 1, 2], [2, 0, 1]]


def test_ties_tell_the_turn_for_every_lens(panorama) -> None:
    problem = panorama((0, 1), (1, 2))
    turns = turns_tied(problem.plates, problem.beside, mirrored=False)
    samples = problem.hands[0].samples
    half = (samples.width_px / 2 - 20.0) / samples.diagonal_px
    expected = 2.0 * np.arctan(half / np.exp(problem.lens.grid()))
    np.testing.assert_allclose(turns.mean[0, 0], expected, rtol=1e-9)


def test_one_tie_may_be_a_blunder_and_three_are_hardly_all(panorama) -> None:
    def any_turn(*pairs: tuple[int, int]) -> list[float]:
        problem = panorama(*pairs)
        turns = turns_tied(problem.plates, problem.beside, mirrored=False)
        return turns.any_turn[0].tolist()

    # A tie is a blunder once in twenty unless told.
    assert any_turn((0, 1), (1, 2)) == pytest.approx([0.05, 0.05])
    assert any_turn((0, 1), (0, 1), (0, 1), (1, 2)) == pytest.approx([0.05**3, 0.05])


def test_density_of_turns_is_highest_at_the_usual_overlap(panorama) -> None:
    problem = panorama((0, 1), (1, 2))
    turns = turns_believed(problem.plates, problem.beside, mirrored=False)
    grid = problem.lens.grid()
    usual = np.interp(LN_C, grid, turns.mean[0, 0])
    shares = np.array([0.0, 0.5, 1.0, 1.5, 2.0, 4.0])
    bearing = usual * shares[:, None] * np.arange(3)
    density = turn_log_density(turns, grid, np.full(len(shares), LN_C), bearing)
    assert int(np.argmax(density)) == 2
    # Any turn at all stays possible.
    assert density[-1] == pytest.approx(2 * np.log(0.05), abs=0.1)


def test_one_lens_is_believed_once(panorama) -> None:
    problem = panorama()
    one = joint_prior(problem.plates, problem.beside)
    assert one.shared_sd[1] == problem.prior_sd[1]
    assert (one.own_sd[:, 1] < 0.01).all()
    own = panorama(one_lens=False)
    each = joint_prior(own.plates, own.beside)
    assert each.shared_sd[1] == 0.0
    np.testing.assert_allclose(each.own_sd[:, 1], problem.prior_sd[1])
