"""Check the cameras that climbs begin from where marks tell of them."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest
import shapely

from wherestood.evidence.items import Evidence
from wherestood.fix.cells import stations_of
from wherestood.fix.first_cameras import FROM_MARKS, MODES, first_cameras
from wherestood.fix.problem import Problem, set_up
from wherestood.fix.settings import LocateSettings

SETTINGS = LocateSettings(surface="ground", reversed=False)
#: A first guess takes one mark at its word, tilt and roll as nothing [deg].
GUESSED_DEG = 2.0


@pytest.fixture(scope="module")
def starts_with(plate, land, area_of, make_cells, marked: ModuleType):
    """Return the function that finds first cameras at the true station."""
    area = area_of(land, shapely.Point(*marked.STATION_M).buffer(300.0))

    def made(evidence: Evidence, skyline=None) -> tuple[Problem, np.ndarray]:
        problem = set_up(plate, land, skyline, area, SETTINGS, evidence)
        east, north = (np.array([part]) for part in marked.STATION_M)
        profiles = problem.profiles(east, north)
        cell = make_cells(east, north, 20.0, np.zeros(1))
        aims = problem.seen.aims(stations_of(problem, cell, profiles))
        found = first_cameras(
            problem, problem.hands[0], profiles, 1.0, problem.seen, aims
        )
        return problem, found[0]

    return made


def off_deg(starts: np.ndarray, bearing_deg: float) -> np.ndarray:
    known = np.isfinite(starts[:, 1])
    off = np.degrees(starts[known, 0]) - bearing_deg
    return np.abs((off + 180.0) % 360.0 - 180.0)


def test_the_first_camera_of_good_marks_looks_where_the_true_one_does(
    starts_with, land, marked
) -> None:
    _, starts = starts_with(marked.evidence_of(land))
    assert off_deg(starts, marked.BEARING_DEG)[0] < GUESSED_DEG
    # 1300 px over a diagonal of 1500.
    assert starts[0, 1] == pytest.approx(np.log(1300.0 / 1500.0), abs=0.1)


@pytest.mark.parametrize("blunder", [0, 3, 6])
def test_one_blunder_is_outvoted(starts_with, land, marked, blunder: int) -> None:
    _, starts = starts_with(marked.evidence_of(land, blunder=blunder))
    assert off_deg(starts, marked.BEARING_DEG)[0] < GUESSED_DEG


@pytest.mark.parametrize("count", [1, 2, 5])
def test_beside_a_skyline_marks_rank_the_screen_and_fill_the_last_places(
    starts_with, land, marked, wavy_skyline, count: int
) -> None:
    evidence = marked.evidence_of(land)
    few = replace(evidence, marks=evidence.marks[:count])
    _, by_both = starts_with(few, wavy_skyline)
    by_marks = min(count, FROM_MARKS)
    # The screen heeds marks as well: what it likes best looks the way of two.
    assert count == 1 or off_deg(by_both[:1], marked.BEARING_DEG)[0] < 4.0
    # Even one mark tells which way the camera looked, the lens being like any.
    assert off_deg(by_both[MODES - by_marks :], marked.BEARING_DEG).min() < 4.0


def test_where_nothing_tells_of_the_camera_one_stands_for_all(starts_with) -> None:
    problem, starts = starts_with(Evidence())
    assert np.isfinite(starts[:, 1]).tolist() == [True, False, False, False]
    assert starts[0, 1] == problem.lens.mean
