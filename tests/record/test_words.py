"""Check the page of plain words."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import shapely
import shapely.affinity

from wherestood.record.doubt import (
    compass_words,
    coordinates,
    odds_in_words,
    round_to_doubt,
)
from wherestood.record.page import page_text
from wherestood.record.sureness import CONDITION
from wherestood.record.words import plain_words

OFF_THE_PAGE = re.compile(
    r"posterior|prior|likelihood|\bnull\b|residual|covariance|leave-one-out|"
    r"\bsigma\b|bayes|gaussian|\bnan\b|\binf\b",
    re.IGNORECASE,
)
VERDICTS = ["located", "several places", "not determined"]


def _text(scene: ModuleType, folder: Path, verdict: str) -> str:
    sections = plain_words(*scene.scene(folder, verdict))
    return "\n".join(line for s in sections for line in (s.heading, *s.lines))


@pytest.mark.parametrize("verdict", VERDICTS)
def test_no_word_of_the_workshop_is_on_the_page(
    scene: ModuleType, tmp_path: Path, verdict: str
) -> None:
    assert OFF_THE_PAGE.findall(_text(scene, tmp_path, verdict)) == []


@pytest.mark.parametrize("verdict", VERDICTS)
def test_odds_always_stand_beside_their_condition(
    scene: ModuleType, tmp_path: Path, verdict: str
) -> None:
    assert CONDITION in _text(scene, tmp_path, verdict)


@pytest.mark.parametrize("verdict", VERDICTS)
def test_a_place_to_go_to_comes_with_care(
    scene: ModuleType, tmp_path: Path, verdict: str
) -> None:
    invited = "go in pairs" in _text(scene, tmp_path, verdict)
    assert invited == (verdict != "not determined")


def test_an_undetermined_plate_is_not_given_a_direction(
    scene: ModuleType, tmp_path: Path
) -> None:
    text = _text(scene, tmp_path, "not determined")
    assert "is not an answer" in text
    assert "Looks towards" not in text


def test_what_was_not_learned_is_said(scene: ModuleType, tmp_path: Path) -> None:
    text = _text(scene, tmp_path, "located")
    assert "Assumed rather than learned: the tilt and the rise" in text
    assert "lens to plate and" not in text


def test_a_lens_that_was_given_is_not_said_to_be_assumed(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path)
    camera = replace(fix.camera, prior_share={"principal_distance_px": 0.9})
    settings = replace(
        inputs.settings, principal_distance_mm=296.0, principal_distance_sd_mm=4.4
    )
    page = page_text(
        plain_words(replace(fix, camera=camera), replace(inputs, settings=settings))
    )
    assert "This is what was given" in page
    assert "Assumed rather than learned" not in page


def test_a_poor_match_is_told_in_plain_figures(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path)
    page = page_text(plain_words(replace(fix, rms_px=152.0), inputs))
    assert "lies 150 px from" in page


def test_what_doubling_leaves_is_said_once(scene: ModuleType, tmp_path: Path) -> None:
    fix, inputs = scene.scene(tmp_path, "located")
    reason = "95% of it there, and 81% when everything doubtful is doubled."
    sure = replace(fix, share_when_doubled=0.81, reasons=(reason,))
    page = page_text(plain_words(sure, inputs))
    assert page.count("81%") == 1
    unsure = replace(sure, verdict="not determined", reasons=())
    assert "With every doubt doubled" in page_text(plain_words(unsure, inputs))


def test_missing_doubts_do_not_reach_the_page_as_numbers(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path)
    vague = replace(
        fix.station, sd_east_m=math.nan, sd_north_m=math.nan, sd_height_m=math.inf
    )
    camera = replace(fix.camera, sd={})
    sections = plain_words(
        replace(fix, station=vague, camera=camera, rms_px=math.nan, chance=math.nan),
        inputs,
    )
    text = "\n".join(line for s in sections for line in s.lines)
    assert OFF_THE_PAGE.findall(text) == []


@pytest.mark.parametrize(
    ("value", "sd", "expected"),
    [
        (214.3187, 0.284, ("214.3", "0.3")),
        (1523.4, 134.0, ("1520", "130")),
        (131.6, 4.0, ("132", "4")),
        (0.00012, 0.00003, ("0.00012", "0.00003")),
        (9.97, 0.19, ("9.97", "0.19")),
        (5.0, math.nan, ("5", "unknown")),
    ],
)
def test_a_number_ends_where_its_doubt_does(
    value: float, sd: float, expected: tuple[str, str]
) -> None:
    assert round_to_doubt(value, sd) == expected


@pytest.mark.parametrize(
    ("sd_m", "decimals"), [(2.0, 5), (20.0, 4), (200.0, 3), (5_000.0, 2)]
)
def test_last_digit_of_a_coordinate_is_no_finer_than_a_tenth_of_its_doubt(
    sd_m: float, decimals: int
) -> None:
    text = coordinates(8.123456789, 46.123456789, sd_m)
    assert len(text.split("°")[0].split(".")[1]) == decimals
    assert 10.0**-decimals * 111_320 >= sd_m / 20


def test_odds_are_within_a_quarter_of_the_truth() -> None:
    for percent in range(1, 100):
        share = percent / 100
        found = odds_in_words(share).split()
        said = int(found[-3]) / int(found[-1])
        real, told = share / (1 - share), said / (1 - said)
        assert 1 / 1.8 < told / real < 1.8


def test_certainty_is_never_claimed() -> None:
    assert odds_in_words(1.0) == "more than 99 in 100"
    assert odds_in_words(0.0) == "less than 1 in 100"


def test_compass_points_turn_with_the_bearing() -> None:
    assert [compass_words(b) for b in (0, 90, 180, 270, 359.9, 22.5)] == [
        "north",
        "east",
        "south",
        "west",
        "north",
        "north-north-east",
    ]


def test_long_ground_is_told_by_length_width_and_way(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path, "located")
    frame = inputs.terrain.frame

    def lonlat(points):
        return np.column_stack(frame.to_lonlat(points[:, 0], points[:, 1]))

    thin = shapely.affinity.rotate(shapely.box(-90.0, -6.0, 90.0, 6.0), 45.0)
    region = shapely.MultiPolygon([shapely.transform(thin, lonlat)])
    long_fix = replace(fix, regions={**fix.regions, 0.9: region})
    (_, place, *_) = plain_words(long_fix, inputs)[0].lines
    assert (
        "9 times in 10 within ground 180 m long from south-west to north-east and 12 m "
        "wide"
    ) in place
    assert "give or take" not in place
    # Round ground needs no more than one number.
    assert "give or take 31 m" in plain_words(fix, inputs)[0].lines[1]
