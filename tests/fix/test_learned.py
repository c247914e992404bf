"""Check what knowing one more thing leaves of ground that can be counted by hand."""

from __future__ import annotations

import numpy as np
import pytest

from wherestood.evidence.unknowns import COUNT
from wherestood.fix.learned import (
    DRAWS,
    Ground,
    Reading,
    after_choice,
    after_each,
    after_reading,
)
from wherestood.fix.likely_cameras import LikelyCameras

SIDE_M = 10.0
#: Of two cells of 100 m2 nine tenths.
BOTH_M2, ONE_M2 = 180.0, 90.0
ROUNDING_M2 = 0.5


@pytest.fixture
def two() -> Ground:
    """Return two cells, as likely one as the other, one camera at each."""
    count = 2
    covariance = np.zeros((count, COUNT, COUNT))
    covariance[:, -2, -2] = covariance[:, -1, -1] = SIDE_M**2 / 12.0
    place = np.array((0.0, 100.0))
    cameras = LikelyCameras(
        np.full(count, 0.5),
        np.arange(count),
        np.zeros(count, dtype=np.int64),
        np.zeros((count, COUNT)),
        covariance,
        place,
        place,
        place,
        np.full(count, SIDE_M),
        1.0,
    )
    return Ground(cameras, np.full(count, SIDE_M**2))


def reading(values: tuple[float, float], sd: float, *, by_east: float = 0.0) -> Reading:
    gradient = np.zeros((2, 1, COUNT))
    gradient[:, 0, -2] = by_east
    return Reading(np.array(values)[:, None], gradient, np.full((2, 1, 1), sd**2))


def rng() -> np.random.Generator:
    return np.random.default_rng(1)


def test_ground_of_two_cells_is_counted(two: Ground) -> None:
    assert two.held_m2(two.cameras.weight) == pytest.approx(BOTH_M2)


def test_what_tells_two_places_apart_leaves_one(two: Ground) -> None:
    found = after_reading(two, reading((0.0, 50.0), 1.0), rng())
    assert found == pytest.approx(ONE_M2, abs=ROUNDING_M2)


def test_what_both_places_foretell_alike_leaves_both(two: Ground) -> None:
    found = after_reading(two, reading((3.0, 3.0), 1.0), rng())
    assert found == pytest.approx(BOTH_M2)


def test_a_reading_of_the_easting_shrinks_each_cell(two: Ground) -> None:
    """One axis shrinks to sd / sqrt(sd^2 + side^2 / 12) of what it was."""
    variance = SIDE_M**2 / 12.0
    found = after_reading(two, reading((0.0, 0.0), 2.0, by_east=1.0), rng())
    expected = BOTH_M2 * 2.0 / np.sqrt(4.0 + variance)
    assert found == pytest.approx(expected, rel=1e-6)


def test_knowing_which_of_two_things_it_is_leaves_one_place(two: Ground) -> None:
    assert after_choice(two, np.eye(2), rng()) == pytest.approx(ONE_M2)
    even = np.full((2, 2), 0.5)
    assert after_choice(two, even, rng()) == pytest.approx(BOTH_M2)


def test_a_mark_that_is_there_already_is_explained_by_one_place(two: Ground) -> None:
    readings = [(0, reading((0.0, 50.0), 1.0))] * DRAWS
    found = after_each(two, readings, np.zeros(1))
    assert found == pytest.approx(ONE_M2, abs=ROUNDING_M2)


def test_a_place_that_cannot_show_it_is_out(two: Ground) -> None:
    found = after_reading(two, reading((0.0, np.nan), 1.0), rng())
    assert found == pytest.approx(ONE_M2, abs=ROUNDING_M2)
