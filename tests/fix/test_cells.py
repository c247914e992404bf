"""Check the scoring of cells: chunks, prepared horizons, marginal cells."""

import numpy as np
import pytest

from wherestood.fix import cells as scoring
from wherestood.fix.cells import Cells, score_cells
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
    for name in Cells.__annotations__:
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
