"""Check what a fix is said to be without each part of its evidence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest
import shapely

from wherestood.errors import InputError
from wherestood.fix.area import Area
from wherestood.fix.cells import Cells
from wherestood.fix.kept_ground import Spread, Weighing
from wherestood.fix.left_out import _doubt_of_difference
from wherestood.fix.locate import locate
from wherestood.fix.result import Fix, Proposed
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate
from wherestood.progress import SILENT, Progress, SilentProgress
from wherestood.terrain.model import Terrain

#: Standard errors within which the truth lies all but always.
SDS = 3.0
BLUNDER = 3
#: Log density that a mark gains where the same feature is ten times as far away.
SHARPER = 2.0 * np.log(10.0)


def searched(
    marked: ModuleType,
    plate: Plate,
    land: Terrain,
    area_of: Callable[[Terrain, shapely.Geometry], Area],
    blunder: int | None,
    proposed: tuple[Proposed, ...] = (),
    progress: Progress = SILENT,
) -> Fix:
    area = area_of(land, shapely.box(-700.0, -1200.0, 1300.0, 800.0))
    return locate(
        plate,
        land,
        None,
        area,
        settings=LocateSettings(surface="ground", reversed=False),
        evidence=marked.evidence_of(land, blunder=blunder),
        proposed=proposed,
        progress=progress,
    )


class Stages(SilentProgress):
    """Note what is said to be done."""

    def __init__(self) -> None:
        self.names: list[str] = []

    def stage(self, name: str, total: int | None = None) -> None:
        del total
        self.names.append(name)


@pytest.fixture(scope="module")
def stages() -> Stages:
    """Return what is told while the fix is made."""
    return Stages()


@pytest.fixture(scope="module")
def fix(
    marked: ModuleType,
    stages: Stages,
    plate: Plate,
    land: Terrain,
    area_of: Callable[[Terrain, shapely.Geometry], Area],
) -> Fix:
    """Return the fix of good marks and one blunder, with three proposals."""
    lon, lat = land.frame.to_lonlat(
        np.array([marked.STATION_M[0], marked.STATION_M[0] + 800.0]),
        np.array([marked.STATION_M[1], marked.STATION_M[1] - 500.0]),
    )
    right = Proposed("right", float(lon[0]), float(lat[0]), bearing_deg=40.0)
    return searched(
        marked,
        plate,
        land,
        area_of,
        BLUNDER,
        (
            right,
            replace(right, name="turned", bearing_deg=140.0),
            Proposed("wrong", float(lon[1]), float(lat[1])),
        ),
        stages,
    )


def test_marks_alone_find_the_station_past_a_blunder(
    marked: ModuleType, fix: Fix
) -> None:
    off_east = fix.station.east_m - marked.STATION_M[0]
    off_north = fix.station.north_m - marked.STATION_M[1]
    assert abs(off_east) < SDS * fix.station.sd_east_m
    assert abs(off_north) < SDS * fix.station.sd_north_m
    assert fix.verdict == "located"


def test_the_blunder_is_named_and_no_other(fix: Fix) -> None:
    blunders = [one["id"] for one in fix.evidence if one["blunder_log_odds"] > 0.0]
    assert blunders == [f"mark {BLUNDER}"]


def test_leaving_out_a_blunder_moves_nothing(marked: ModuleType, fix: Fix) -> None:
    told = {one.name: one for one in fix.left_out}
    assert set(told) == {f"mark {n}" for n in range(len(marked.THINGS))}
    assert told[f"mark {BLUNDER}"].moved_m == pytest.approx(0.0, abs=0.1)
    assert told[f"mark {BLUNDER}"].area_ratio == pytest.approx(1.0, abs=0.02)


def test_fewer_marks_never_settle_the_place_better(fix: Fix) -> None:
    # The ground is counted in whole cells: a cell either way is no difference.
    assert min(one.area_ratio for one in fix.left_out) > 0.9
    assert max(one.area_ratio for one in fix.left_out) > 1.1


def test_the_true_place_fits_and_another_does_not(fix: Fix) -> None:
    right, turned, wrong = fix.proposed
    assert right.verdict == "fits"
    assert right.bearing_off_sds < 1.0
    assert turned.verdict == "fits poorly"
    assert wrong.verdict == "impossible"
    assert wrong.because[0][1] < -5.0
    # What is seen from farther off is read more sharply there: by a factor of some
    # times, no more, a mark may speak for it.
    assert all(by < SHARPER for _, by in wrong.because)


def test_testing_an_answer_is_told_as_that(fix: Fix, stages: Stages) -> None:
    said = [name for name in stages.names if name.startswith("Testing the answer of ")]
    assert [told.proposed.name for told in fix.proposed] == [
        name
        for name in ("right", "turned", "wrong")
        if any(name in one for one in said)
    ]
    assert "Testing the answer of right: searching the ground" in said


def test_what_fits_near_a_position_is_told_with_its_own_camera(fix: Fix) -> None:
    right, turned, wrong = fix.proposed
    assert right.answer is not None
    assert right.apart_m < fix.near_enough_m
    assert [row["id"] for row in right.answer.evidence] == [
        row["id"] for row in fix.evidence
    ]
    # Proposed 100 degrees clockwise of where the camera looked.
    assert turned.bearing_off_deg == pytest.approx(100.0, abs=SDS)
    assert wrong.answer is not None
    assert wrong.answer.probability < 1e-3


def test_a_bearing_is_brought_between_0_and_360() -> None:
    assert Proposed("a", 8.5, 46.1, bearing_deg=-145.0).bearing_deg == 215.0
    assert Proposed("a", 8.5, 46.1, bearing_deg=575.0).bearing_deg == 215.0


@pytest.mark.parametrize(
    "values",
    [
        {"lon_deg": 512_000.0},
        {"lat_deg": 91.0},
        {"doubt_m": -1.0},
        {"bearing_deg": float("nan")},
        {"bearing_deg": 10.0, "bearing_sd_deg": 0.0},
    ],
)
def test_a_position_that_cannot_be_is_refused_by_name(values) -> None:
    given = {"lon_deg": 8.5, "lat_deg": 46.1, **values}
    with pytest.raises(InputError, match="'the sexton'") as refused:
        Proposed("the sexton", **given)
    assert refused.value.remedy


def test_movements_are_measured_against_the_doubt_of_the_difference(fix: Fix) -> None:
    # All marks but one are exact: none of them can disagree.
    for one in fix.left_out:
        assert one.moved_sds < 1.0
        assert one.expected_m > 0.0


def weighing(make_cells: Callable[..., Cells], side_m: float) -> Weighing:
    """Return two cells, each as likely as the other."""
    place = np.array([0.0, side_m])
    cells = make_cells(place, place, side_m, np.zeros(2))
    return Weighing(cells, np.ones(2), np.full(2, 0.5), 0.0)


@pytest.mark.parametrize(
    ("with_sd_m", "without_sd_m", "expected_m"),
    [
        # Nested answers: the difference has the difference of the covariances.
        (6.0, 10.0, 8.0),
        # A skyline whose model may be shifted by 15 m beside marks good to 1 m: a
        # movement of 13 m is less than one standard error, not thirteen.
        (15.03, 1.0, 15.0),
    ],
)
def test_the_doubt_of_the_difference_is_that_of_neither_answer(
    make_cells: Callable[..., Cells],
    with_sd_m: float,
    without_sd_m: float,
    expected_m: float,
) -> None:
    side_m = 0.1
    with_it, without_it = (
        Spread(0.0, 0.0, sd**2 * np.eye(2), 1.0) for sd in (with_sd_m, without_sd_m)
    )
    doubt = _doubt_of_difference(weighing(make_cells, side_m), with_it, without_it)
    expected = expected_m**2 + 2.0 * side_m**2 / 12.0
    np.testing.assert_allclose(doubt, expected * np.eye(2), rtol=2e-3, atol=1e-9)
