"""Check the scoring of cells: chunks, prepared horizons, marginal cells."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from wherestood.evidence.plate_rows import add_plate_rows
from wherestood.evidence.unknowns import COUNT
from wherestood.fix import cells as scoring
from wherestood.fix.cells import Cells, score_cells, stations_of
from wherestood.fix.problem import set_up
from wherestood.fix.settings import LocateSettings
from wherestood.progress import SILENT

SIDE_M = 100.0
# The same sums in the same order: nothing but the split into threads differs.
ROUNDING = 1e-9


@pytest.fixture(scope="module")
def places():
    """Return centres of cells in the ground searched."""
    east_m, north_m = np.random.default_rng(3).uniform(-1500.0, 1500.0, (2, 20))
    return east_m, north_m


def assert_same(one: Cells, other: Cells) -> None:
    alone = ("more_theta", "more_sd")  # of panoramas
    for name in (name for name in Cells.__annotations__ if name not in alone):
        np.testing.assert_allclose(
            getattr(one, name), getattr(other, name), rtol=ROUNDING, err_msg=name
        )


def test_cells_score_alike_in_one_chunk_or_several(
    problem, places, monkeypatch: pytest.MonkeyPatch
) -> None:
    inside = np.ones(20, dtype=bool)
    whole = score_cells(problem, *places, SIDE_M, inside, SILENT)
    monkeypatch.setattr(scoring, "CHUNK", 7)
    assert_same(whole, score_cells(problem, *places, SIDE_M, inside, SILENT))


def test_horizons_at_hand_give_the_same_cells(
    problem, places, monkeypatch: pytest.MonkeyPatch
) -> None:
    inside = np.ones(20, dtype=bool)
    whole = score_cells(problem, *places, SIDE_M, inside, SILENT)
    made = problem.maker.make(*places)
    monkeypatch.setattr(scoring, "CHUNK", 7)
    again = score_cells(problem, *places, SIDE_M, inside, SILENT, profiles=made)
    assert_same(whole, again)


def test_cells_on_unknown_ground_are_left_out(problem, places) -> None:
    east_m, north_m = (part.copy() for part in places)
    east_m[[2, 11]] = 50_000.0
    found = score_cells(
        problem, east_m, north_m, SIDE_M, np.ones(20, dtype=bool), SILENT
    )
    known = np.delete(np.arange(20), [2, 11])
    np.testing.assert_array_equal(found.east_m, east_m[known])
    assert np.isfinite(found.log_density).all()


def at_power(problem, places, power: float) -> Cells:
    """Score places, their densities raised to a power."""
    noise = replace(problem.noise, station_power=power)
    inside = np.ones(len(places[0]), dtype=bool)
    return score_cells(problem, *places, SIDE_M, inside, SILENT, noise=noise)


def test_station_power_scales_what_the_skyline_says_and_moves_no_camera(
    problem, places
) -> None:
    whole, part = (at_power(problem, places, power) for power in (1.0, 0.4))
    np.testing.assert_array_equal(part.theta, whole.theta)
    known = np.isfinite(whole.mode_score)
    odds = np.array([hand.log_prior for hand in problem.hands])[None, :, None]
    expected = np.where(known, 0.4 * (whole.mode_score - odds) + odds, -np.inf)
    np.testing.assert_allclose(part.mode_score[known], expected[known], rtol=ROUNDING)


def test_marks_beside_a_skyline_keep_their_weight_at_any_station_power(
    plate, land, wavy_skyline, area_of, marked, places
) -> None:
    area = area_of(land, shapely.box(-2000.0, -2000.0, 2000.0, 2000.0))
    settings = LocateSettings(surface="ground", reversed=False)
    problem = set_up(
        plate, land, wavy_skyline, area, settings, marked.evidence_of(land)
    )
    whole, part = (at_power(problem, places, power) for power in (1.0, 0.4))
    np.testing.assert_array_equal(part.theta, whole.theta)
    profiles = problem.profiles(*places)
    aims = problem.seen.aims(stations_of(problem, whole, profiles))
    # Of a camera found twice the better is kept, and that may be the other.
    both = np.isfinite(whole.mode_score) & np.isfinite(part.mode_score)
    checked = 0
    for cell, _, mode in np.argwhere(both):
        square, log_det = add_plate_rows(
            whole.theta[cell, 0, mode],
            problem.seen.handed(aims, cell),
            0.0,
            True,
            True,
            np.zeros((COUNT, COUNT)),
            np.zeros(COUNT),
            np.zeros(0),
        )
        odds = problem.hands[0].log_prior
        said = -0.5 * (square + log_det)
        expected = 0.4 * (whole.mode_score[cell, 0, mode] - odds) + 0.6 * said + odds
        assert part.mode_score[cell, 0, mode] == pytest.approx(expected, rel=1e-9)
        checked += 1
    assert checked > len(places[0])
