"""Check that the words say each measure of doubt, and never more than the fix."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon

from wherestood.fix import verdict as verdicts
from wherestood.fix.result import Fix, GroundInView
from wherestood.record import settled
from wherestood.record.inputs import FixInputs
from wherestood.record.lens_words import lens_lines
from wherestood.record.settled import region_size, settled_lines
from wherestood.record.shares import percents, shares, shares_lines
from wherestood.record.sureness import asked, verdict_in_words
from wherestood.record.words import place_in_words, plain_words

VERDICTS = ["located", "several places", "not determined"]
ONE_METRE = 1.0
ONE_PERCENT = 0.01
ROUNDING = 1e-9

Told = Callable[..., str]


@pytest.fixture
def told(scene: ModuleType, tmp_path: Path) -> Told:
    """Return the function that tells a changed fix as one line of words."""

    def page(verdict: str = "located", **changed: Any) -> str:
        fix, inputs = scene.scene(tmp_path, verdict)
        sections = plain_words(replace(fix, **changed), inputs)
        return " ".join(" ".join((s.heading, *s.lines)) for s in sections)

    return page


@pytest.fixture
def boxed(scene: ModuleType, tmp_path: Path) -> Callable[..., tuple[Fix, FixInputs]]:
    """Return the function that gives a fix boxes in metres as its nine tenths."""

    def made(*boxes: shapely.Polygon, **changed: Any) -> tuple[Fix, FixInputs]:
        fix, inputs = scene.scene(tmp_path, "not determined")
        region = shapely.transform(
            MultiPolygon(boxes),
            lambda at: np.column_stack(
                inputs.terrain.frame.to_lonlat(at[:, 0], at[:, 1])
            ),
        )
        return replace(fix, regions={0.9: region}, **changed), inputs

    return made


@pytest.mark.parametrize("verdict", VERDICTS)
def test_no_verdict_is_told_without_its_distance(told: Told, verdict: str) -> None:
    text = told(verdict, near_enough_m=137.5)
    assert f"{verdict}" in text.lower()
    assert re.search(rf"{verdict}[^.]* to 137\.5 m\.", text, re.IGNORECASE)
    for found in re.finditer(r"\blocated\b", text, re.IGNORECASE):
        assert text[found.end() :].startswith(" to 137.5 m")


@pytest.mark.parametrize("near_m", [2.0, 125.0, 1234.5, 50_000.0])
def test_distance_asked_is_repeated_as_it_was_given(
    scene: ModuleType, tmp_path: Path, near_m: float
) -> None:
    fix, _ = scene.scene(tmp_path)
    fix = replace(fix, near_enough_m=near_m)
    assert float(asked(fix).removesuffix(" m")) == near_m
    assert verdict_in_words(fix) == f"located to {asked(fix)}"


@pytest.mark.parametrize("verdict", VERDICTS[1:])
def test_only_located_is_told_as_located(told: Told, verdict: str) -> None:
    text = told(verdict, near_enough_share=0.99, elsewhere=0.0, chance=0.0)
    assert not re.search(r"\blocated\b", text, re.IGNORECASE)
    assert "Camera position: " not in text


@pytest.mark.parametrize("verdict", VERDICTS[1:])
def test_an_area_is_told_where_no_place_is(told: Told, verdict: str) -> None:
    text = told(verdict)
    assert "Not to 125 m, but to an area: 9 times in 10 it stood within" in text


def test_size_of_an_area_is_that_of_its_box(boxed: Any) -> None:
    turned = shapely.affinity.rotate(shapely.box(-200.0, -50.0, 400.0, 50.0), 33.0)
    fix, inputs = boxed(turned)
    size = region_size(fix.regions[0.9], inputs.terrain.frame)
    assert (size.long_m, size.short_m) == pytest.approx((600.0, 100.0), abs=ONE_METRE)
    assert size.area_m2 == pytest.approx(60_000.0, rel=1e-3)
    assert (size.pieces, size.lat_deg) == (1, pytest.approx(41.2, abs=1e-5))
    (line,) = settled_lines(fix, inputs)
    assert "6 ha: about 600 m by 100 m, around 41.2000° N" in line


def test_pieces_of_an_area_are_told_with_their_spread(boxed: Any) -> None:
    pieces = [shapely.box(x, 0.0, x + 100.0, 100.0) for x in (0.0, 900.0)]
    fix, inputs = boxed(*pieces)
    (line,) = settled_lines(fix, inputs)
    assert "2 ha: 2 pieces spread over 1 km by 100 m" in line


def test_no_area_is_settled_where_much_is_left_for_elsewhere(boxed: Any) -> None:
    box = shapely.box(0.0, 0.0, 100.0, 100.0)
    first, second = settled_lines(*boxed(box, elsewhere=0.3))
    assert first.startswith("Nor is any area settled: about 1 in 3 ")
    assert second.startswith("If neither is so, ")
    assert len(settled_lines(*boxed(box, elsewhere=0.05))) == 1
    assert len(settled_lines(*boxed(box, elsewhere=math.nan))) == 2
    assert len(settled_lines(*boxed(box, chance=math.nan))) == 2


def test_words_and_verdict_leave_as_much_for_elsewhere() -> None:
    assert settled.MOST_ELSEWHERE <= verdicts.MOST_ELSEWHERE


def test_most_of_the_ground_searched_is_not_told_as_an_area(boxed: Any) -> None:
    (line,) = settled_lines(*boxed(shapely.box(-1900.0, -1900.0, 1900.0, 1900.0)))
    assert line.startswith("Nor is any smaller area settled")
    assert " 7" in line  # 14.4 km2 of a circle of 2.5 km: 74%
    assert "it stood within" not in line


def test_an_area_at_the_edge_may_go_on_beyond(boxed: Any) -> None:
    lines = settled_lines(*boxed(shapely.box(2300.0, -50.0, 2600.0, 50.0)))
    assert "may go on beyond" in lines[-1]
    assert len(settled_lines(*boxed(shapely.box(0.0, 0.0, 100.0, 100.0)))) == 1


def test_without_a_region_no_area_is_told(scene: ModuleType, tmp_path: Path) -> None:
    fix, inputs = scene.scene(tmp_path, "not determined")
    for regions in ({}, {0.9: MultiPolygon()}):
        assert settled_lines(replace(fix, regions=regions), inputs) == ()


@pytest.mark.parametrize("verdict", VERDICTS)
def test_how_much_lies_within_the_distance_asked_is_told(
    told: Told, verdict: str
) -> None:
    text = told(verdict, near_enough_share=0.5)
    assert re.search(r"Within 125 m of [a-z ]+: about 1 in 2, if the camera", text)


@pytest.mark.parametrize("verdict", VERDICTS)
def test_chance_and_doubled_doubt_are_told_in_a_sentence_each(
    told: Told, verdict: str
) -> None:
    text = told(verdict, chance=0.0021, share_when_doubled=0.31)
    assert "Of skylines that come from other hills, about 1 in 500 would match" in text
    assert "With every doubt doubled (trees, tracing, elevation model), 31% of" in text


def test_what_was_not_tried_is_not_told(told: Told) -> None:
    text = told(chance=math.nan, share_when_doubled=math.nan, ground_in_view=None)
    assert "skylines from other hills match as well could not be tried" in text
    assert "doubt doubled" not in text
    assert "elevation model ends" not in text


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_shares_are_never_told_as_certain(told: Told, share: float) -> None:
    text = told(share_when_doubled=share, near_enough_share=share)
    assert not re.search(r"(?<![\d.])(0|100)% of the probability", text)


def test_missing_ground_is_warned_of(told: Told) -> None:
    text = told(ground_in_view=GroundInView(0.23, 0.12, 4_000.0))
    assert "Warning: over 23% of the view the horizon is not known" in text
    assert "Warning: over 12% of the view the elevation model has a hole" in text
    assert "ends 4 km away" in text


def test_whole_ground_is_not_warned_of(told: Told) -> None:
    text = told(ground_in_view=GroundInView(0.01, 0.02, math.inf))
    assert "Warning" not in text
    assert "elevation model ends" not in text


@pytest.mark.parametrize("verdict", VERDICTS)
def test_give_or_take_is_explained_wherever_it_stands(told: Told, verdict: str) -> None:
    text = told(verdict)
    assert "give or take" in text
    assert '"Give or take" is one standard error: about 2 times in 3' in text


def test_sizes_of_three_regions_are_told(told: Told) -> None:
    # Discs of a normal spread of 22 m: pi r^2, r^2 = -2 ln(1 - p) 22^2.
    text = told()
    for share, times in ((0.5, "1 time in 2"), (0.9, "9 times in 10")):
        area_m2 = -2.0 * math.pi * math.log(1.0 - share) * 22.0**2
        assert f"{float(f'{area_m2:.2g}'):g} m² {times}" in text
    assert "99 times in 100" in text


def test_a_place_that_fills_its_circle_has_no_finer_doubt(scene: ModuleType) -> None:
    # Spread over an even disc of 125 m: 125 / sqrt 2 from its middle.
    filled = scene.station(0.0, 0.0, 125.0 / 2.0)
    assert "anywhere within 125 m" in place_in_words(filled, 125.0)
    assert "give or take 31 m" in place_in_words(scene.station(0.0, 0.0), 125.0)


def test_lens_is_told_in_both_units_with_the_angle(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path)
    camera = replace(fix.camera, principal_distance_mm=190.0)
    camera = replace(camera, sd={"principal_distance_px": 38.0})
    distance, angle, usual = lens_lines(replace(fix, camera=camera), inputs)
    assert "190 mm, give or take 4 (1900 px of the scan, give or take 40)" in distance
    # 2 atan(800 / 1900); a lens longer by 2% sees about 0.8 deg less.
    assert angle == "The scan takes in 45.7°, give or take 0.8, side to side."
    assert "about as long a lens as was usual" in usual
    assert "(common practice)" in usual


@pytest.mark.parametrize(
    ("distance_px", "sd_px", "said"),
    [
        (1000.0, 50.0, "wider view"),
        (1430.0, 50.0, None),
        (2000.0, 40.0, "usual for"),
        (2000.0, math.nan, None),
        (3000.0, 100.0, "narrower view"),
    ],
)
def test_a_lens_is_called_unusual_only_beyond_its_doubt(
    scene: ModuleType, tmp_path: Path, distance_px: float, sd_px: float, said: str
) -> None:
    fix, inputs = scene.scene(tmp_path)
    camera = replace(
        fix.camera,
        principal_distance_px=distance_px,
        sd={"principal_distance_px": sd_px},
    )
    lines = lens_lines(replace(fix, camera=camera), inputs)
    assert len(lines) == (3 if said else 2)
    assert said is None or said in lines[-1]
    trimmed = replace(inputs, settings=replace(inputs.settings, trimmed=True))
    assert len(lens_lines(replace(fix, camera=camera), trimmed)) == 2


def test_a_lens_that_was_not_learned_is_not_called_usual(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path)
    camera = replace(fix.camera, prior_share={"principal_distance_px": 0.9})
    lines = lens_lines(replace(fix, camera=camera), inputs)
    assert lines[-1] == "This was assumed rather than learned from the plate."
    assert not any("usual" in line for line in lines)


@pytest.mark.parametrize(
    ("probability", "odds"),
    [(0.002, "less than 1 in 100"), (0.5, "about 1 in 2"), (math.nan, "not known")],
)
@pytest.mark.parametrize("verdict", VERDICTS)
def test_odds_of_a_reversed_scan_are_told_whenever_tried(
    told: Told, verdict: str, probability: float, odds: str
) -> None:
    text = told(verdict, reversed_probability=probability)
    assert f"the chance that the scan is left for right: {odds}." in text


def test_a_side_that_was_given_is_told_as_given(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path)
    inputs = replace(inputs, settings=replace(inputs.settings, reversed=True))
    text = " ".join(line for s in plain_words(fix, inputs) for line in s.lines)
    assert "Both ways round" not in text
    assert "The scan is left for right, as given." in text


@pytest.mark.parametrize("verdict", VERDICTS)
@pytest.mark.parametrize("elsewhere", [0.0, 0.02, 0.333, 1.0])
def test_parts_add_up_to_one_hundred_percent(
    scene: ModuleType, tmp_path: Path, verdict: str, elsewhere: float
) -> None:
    fix, _ = scene.scene(tmp_path, verdict)
    parts = shares(replace(fix, elsewhere=elsewhere))
    assert sum(p.probability for p in parts) == pytest.approx(1.0, abs=ROUNDING)
    assert all(p.probability >= 0.0 for p in parts)
    assert sum(percents(parts)) == 100
    for part, percent in zip(parts, percents(parts), strict=True):
        assert abs(percent / 100 - part.probability) < ONE_PERCENT


def test_parts_are_places_then_close_by_then_the_rest(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, _ = scene.scene(tmp_path)
    # Six cells east of the station, by hand: near, close by, far.
    cells = np.array(
        [[at, 0.0, 10.0, p] for at, p in ((0, 0.6), (180, 0.25), (700, 0.15))]
    )
    fix = replace(fix, cells=cells, near_enough_share=0.6, elsewhere=0.0)
    assert shares_lines(fix) == (
        "60% within 125 m of place 1",
        "25% close by: not so near, but within 250 m",
        "15% the rest of the ground searched",
        "under 1% outside the ground searched, or a match by chance",
    )


def test_places_that_hold_too_much_are_cut_down(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, _ = scene.scene(tmp_path, "several places")
    parts = shares(replace(fix, near_enough_share=0.9, cells=np.empty((0, 4))))
    assert sum(p.probability for p in parts) == pytest.approx(1.0, abs=ROUNDING)
