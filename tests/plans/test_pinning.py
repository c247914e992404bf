"""Pins hold a sheet, or what is wrong with them is said."""

from __future__ import annotations

import doctest
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from wherestood.errors import PlanError
from wherestood.plans import Pins, pin_sheet

#: Nothing is rounded on purpose: a millionth of a metre, of a pixel.
MICROMETRE = 1e-6
CORNERS_PX = np.array([[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]])
#: Half a metre a pixel, north up.
CORNERS_M = CORNERS_PX * [0.5, -0.5] + [1000.0, 2000.0]


def test_page_of_plans_shows_what_the_program_does() -> None:
    page = Path(__file__).parents[2] / "docs" / "plans.md"
    failed, attempted = doctest.testfile(str(page), module_relative=False)
    assert failed == 0
    assert attempted >= 8


def dozen() -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(1)
    sheet = rng.uniform(0.0, 400.0, (14, 2))
    return sheet, sheet * [0.5, -0.5] + np.sin(sheet / 90.0) * 3.0


@pytest.mark.parametrize("kind", ["similarity", "affine", "projective"])
def test_square_of_known_scale_is_pinned_exactly(kind: str) -> None:
    pinning = pin_sheet(Pins.of(CORNERS_PX, CORNERS_M), kind)  # type: ignore[arg-type]
    place = np.array([[100.0, 200.0]])
    assert pinning.to_ground(place) == pytest.approx(
        np.array([[1050.0, 1900.0]]), abs=MICROMETRE
    )
    assert pinning.metres_per_px == pytest.approx(0.5, abs=MICROMETRE)
    assert np.abs(pinning.left_over_m).max() < MICROMETRE


@pytest.mark.parametrize("kind", ["similarity", "affine", "projective", "bending"])
def test_ground_and_sheet_are_each_others_inverse(kind: str) -> None:
    sheet, ground = dozen()
    pinning = pin_sheet(Pins.of(sheet, ground), kind)  # type: ignore[arg-type]
    places = np.array([[[50.0, 60.0], [200.0, 150.0]], [[390.0, 10.0], [5.0, 290.0]]])
    there = pinning.to_sheet(pinning.to_ground(places))
    assert there == pytest.approx(places, abs=MICROMETRE)


def test_bent_sheet_meets_every_pin_and_warns() -> None:
    sheet, ground = dozen()
    pinning = pin_sheet(Pins.of(sheet, ground), "bending")
    assert np.abs(pinning.left_over_m).max() < MICROMETRE
    assert any("bends freely" in words for words in pinning.warnings)
    with pytest.raises(PlanError, match="needs 12"):
        pin_sheet(Pins.of(sheet[:11], ground[:11]), "bending")


def test_four_pins_just_hold_a_projective_fit_and_say_so() -> None:
    pinning = pin_sheet(Pins.of(CORNERS_PX, CORNERS_M))
    assert pinning.kind == "projective"
    assert any("Pin more places" in words for words in pinning.warnings)


def test_two_pins_hold_a_similarity_and_three_an_affine_map() -> None:
    for count, kind in ((2, "similarity"), (3, "affine")):
        pinning = pin_sheet(Pins.of(CORNERS_PX[:count], CORNERS_M[:count]))
        assert pinning.kind == kind


def test_wrong_corner_is_named_by_its_leftover() -> None:
    sheet = np.vstack([CORNERS_PX, [[200, 150], [100, 80], [310, 220], [220, 20]]])
    ground = sheet * [0.5, -0.5] + [1000.0, 2000.0]
    ground[2] += [40.0, 0.0]
    pinning = pin_sheet(Pins.of(sheet, ground, names=tuple("ABCDEFGH")))
    assert list(pinning.counted) == [True, True, False] + 5 * [True]
    assert pinning.errors.wrong[2] > 0.99
    assert pinning.left_over_m[2] == pytest.approx([40.0, 0.0], abs=MICROMETRE)


def test_leftovers_do_not_depend_on_where_the_ground_is_counted_from() -> None:
    sheet, ground = dozen()
    here = pin_sheet(Pins.of(sheet, ground))
    far_m = np.array([300_000.0, 5_000_000.0])
    there = pin_sheet(Pins.of(sheet, ground + far_m))
    assert there.left_over_m == pytest.approx(here.left_over_m, abs=1e-5)
    place = np.array([[222.0, 99.0]])
    assert there.sd_m(place) == pytest.approx(here.sd_m(place), rel=1e-4)


@pytest.mark.parametrize(
    ("sheet", "ground", "words", "remedy"),
    [
        (CORNERS_PX[:1], CORNERS_M[:1], "no scale", "second place"),
        (
            np.array([[0, 0], [100, 100], [200, 200], [300, 300.0]]),
            np.array([[0, 0], [50, -50], [100, -100], [150, -150.0]]),
            "in a line on the sheet", "off the line",
        ),
        (
            np.vstack([CORNERS_PX, CORNERS_PX[:1]]),
            np.vstack([CORNERS_M, CORNERS_M[:1] + 30.0]),
            "1 and 5 are on one spot of the sheet", "Move one",
        ),
        (
            np.vstack([CORNERS_PX, [[200.0, 150.0]]]),
            np.vstack([CORNERS_M, CORNERS_M[:1]]),
            "1 and 5 are on one spot of the ground", "Move one",
        ),
        (CORNERS_PX, CORNERS_M * [-1.0, 1.0], "seen from behind", "mirrored"),
        (
            np.array([[0, 0], [100, 0], [200, 0], [100, 150.0]]),
            np.array([[0, 0], [50, 0], [100, 0], [50, -75.0]]),
            "do not hold a projective fit", "all corners",
        ),
    ],
)  # fmt: skip
def test_bad_pins_are_refused_with_a_remedy(
    sheet: np.ndarray, ground: np.ndarray, words: str, remedy: str
) -> None:
    with pytest.raises(PlanError, match=words) as refused:
        pin_sheet(Pins.of(sheet, ground))
    assert remedy in refused.value.remedy


def test_mirrored_sheet_is_pinned_once_it_is_said_to_be_one() -> None:
    ground = CORNERS_M * [-1.0, 1.0]
    for kind in ("similarity", "affine", "projective"):
        pinning = pin_sheet(Pins.of(CORNERS_PX, ground), kind, mirrored=True)
        assert np.abs(pinning.left_over_m).max() < MICROMETRE


def test_bent_sheet_states_its_error_nine_times_in_ten(sheets: ModuleType) -> None:
    rng = np.random.default_rng(8)
    inside = 0
    for _ in range(30):
        sheet = sheets.invented_sheet("folded", rng, pins=14)
        pinning = pin_sheet(sheet.pins, "bending")
        place = rng.uniform(0.1, 0.9, (1, 2)) * np.array(sheets.SHEET_PX)
        error = (sheet.true_m(place) - pinning.to_ground(place))[0]
        inside += bool(error @ np.linalg.solve(pinning.within_m2(place)[0], error) <= 1)
    assert inside >= 23  # the lower end of the 99% band of 30 at 9 in 10
