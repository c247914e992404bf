"""A traverse is closed by least squares, and says how well it closed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.stats import binom

from wherestood.errors import PlanError
from wherestood.plans.deed import Call
from wherestood.plans.traverse import LegErrors, draw_traverse

ONE_MILLIMETRE = 1e-3
SIDES = [(90.0, 400.0), (180.0, 300.0), (270.0, 400.0), (0.0, 300.0)]


def calls(sides: list[tuple[float, float]]) -> list[Call]:
    return [Call("", bearing % 360.0, length) for bearing, length in sides]


def test_oblong_closes_and_has_its_area() -> None:
    drawn = draw_traverse(calls(SIDES), (10.0, 20.0), closes=True)
    assert drawn.linear_misclosure_m == pytest.approx(0.0, abs=ONE_MILLIMETRE)
    assert drawn.area_m2 == pytest.approx(120_000.0, abs=1.0)
    expected = [[10, 20], [410, 20], [410, -280], [10, -280], [10, 20]]
    assert drawn.corners_m == pytest.approx(np.array(expected), abs=ONE_MILLIMETRE)
    assert drawn.suspects == ()


def test_open_traverse_has_no_misclosure() -> None:
    drawn = draw_traverse(calls(SIDES[:2]), north_deg=90.0)
    assert drawn.misclosure_m is None
    assert drawn.one_in is None
    # Turned by a right angle: what went east goes south.
    assert drawn.corners_m[1] == pytest.approx([0.0, -400.0], abs=ONE_MILLIMETRE)


def test_misclosure_is_shared_out_by_least_squares() -> None:
    """SOURCE: scipy's general minimiser over every leg, told nothing of traverses."""
    sides = [(89.7, 401.0), (180.3, 299.0), (269.9, 400.5), (0.2, 300.4)]
    doubt = LegErrors(0.25, 0.002)
    drawn = draw_traverse(calls(sides), closes=True, errors=doubt)
    legs = np.array(sides)

    def left(unknown: np.ndarray) -> np.ndarray:
        turned = np.radians(legs[:, 0]) + np.radians(0.25) * unknown[:4]
        length = legs[:, 1] * (1.0 + 0.002 * unknown[4:])
        ends = (length * np.sin(turned)).sum(), (length * np.cos(turned)).sum()
        return np.concatenate([unknown, np.array(ends) / 1e-4])

    best = least_squares(left, np.zeros(8)).x
    turned = np.radians(legs[:, 0]) + np.radians(0.25) * best[:4]
    length = legs[:, 1] * (1.0 + 0.002 * best[4:])
    steps = length[:, None] * np.column_stack([np.sin(turned), np.cos(turned)])
    # Ours is linear about the calls as written, whence some millimetres.
    assert drawn.corners_m[1:] == pytest.approx(np.cumsum(steps, axis=0), abs=0.02)


@pytest.mark.parametrize("closes", [True, False])
def test_stated_error_of_corners_is_the_true_one(closes: bool) -> None:
    rng = np.random.default_rng(6)
    doubt = LegErrors(0.3, 0.003, north_sd_deg=0.5, scale_share=0.002)
    truth = np.vstack([[0, 0], np.cumsum([[400, 0], [0, -300], [-400, 0]], axis=0)])
    inside, tries = 0, 300
    for _ in range(tries):
        north, scale = rng.normal(0.0, 0.5), 1.0 + rng.normal(0.0, 0.002)
        read = [
            (b + rng.normal(0, 0.3) + north, d * scale * (1.0 + rng.normal(0, 0.003)))
            for b, d in SIDES
        ]
        start = rng.normal(0.0, 2.0, 2)
        drawn = draw_traverse(
            calls(read), start, closes=closes, start_sd_m=2.0, errors=doubt
        )
        error = drawn.corners_m[2] - truth[2]
        spread = drawn.covariance_m2[4:6, 4:6]
        inside += bool(error @ np.linalg.solve(spread, error) <= -2.0 * np.log(0.1))
    low, high = binom.interval(0.99, tries, 0.9)
    assert low <= inside <= high


def test_chain_miscounted_by_one_is_named() -> None:
    chain_m = 20.1168
    sides = [SIDES[0], (180.0, 300.0 - 5 * chain_m), (215.0, 400.0)]
    ends = np.sum([d * np.array([np.sin(np.radians(b)), np.cos(np.radians(b))])
                   for b, d in sides], axis=0)  # fmt: skip
    back = (float(np.degrees(np.arctan2(*-ends)) % 360.0), float(np.hypot(*ends)))
    good = [*sides, back]
    wrong = [*good[:2], (good[2][0], good[2][1] - chain_m), good[3]]
    drawn = draw_traverse(calls(wrong), closes=True, errors=LegErrors(0.1, 0.001))
    first = drawn.suspects[0]
    assert first.call == 2
    assert first.length_m == pytest.approx(400.0, abs=0.5)


def test_what_both_closes_and_ends_elsewhere_is_refused() -> None:
    with pytest.raises(PlanError, match="both close"):
        draw_traverse(calls(SIDES), end_m=(1.0, 1.0), closes=True)
    with pytest.raises(PlanError, match="no calls"):
        draw_traverse([])


def test_traverse_between_two_known_corners_ends_at_the_second() -> None:
    drawn = draw_traverse(calls(SIDES[:2]), end_m=(403.0, -301.0))
    assert drawn.corners_m[-1] == pytest.approx([403.0, -301.0], abs=ONE_MILLIMETRE)
    assert drawn.misclosure_m == pytest.approx([-3.0, 1.0], abs=ONE_MILLIMETRE)
