"""Check that advice is told in words a person can act on."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest

from wherestood.fix.checked import Advice, Checks, MissingGround
from wherestood.record.advice_words import advice_in_words, advice_section


@pytest.fixture
def told(scene: ModuleType, tmp_path: Path):
    fix, inputs = scene.with_evidence(*scene.scene(tmp_path, "located"))

    def made(*advice: Advice, missing: tuple[MissingGround, ...] = ()):
        return (
            replace(fix, checks=Checks(advice=advice, missing_ground=missing)),
            inputs,
        )

    return made


@pytest.mark.parametrize(
    ("what", "subjects", "to", "words"),
    [
        ("place", ("A", "f1"), 5.0, "where tannery chimney (mark A) stood, to 5 m"),
        (
            "identity",
            ("B", "f1", "f2"),
            math.nan,
            "which of them mark B is: tannery chimney or gable",
        ),
        (
            "detail",
            ("C",),
            5.0,
            "what C on the plate is, and where it stood, to 5 m",
        ),
        (
            "in line",
            ("f1", "f2"),
            0.1,
            "how far tannery chimney stands beside gable on the plate, to 0.1° side "
            "to side",
        ),
        ("lens", (), 0.01, "how far the lens was from the plate, to 1%"),
    ],
)
def test_each_kind_of_advice_has_its_words(
    told, what: str, subjects: tuple[str, ...], to: float, words: str
) -> None:
    one = Advice(what, subjects, to, 31_000.0, 4000.0)
    assert advice_section(*told(one)).table[1] == ("1", words, "4000 m²")
    assert advice_in_words(*told(one)) == [
        f"Find out {words}: region from 3.1 ha to 4000 m²."
    ]


def test_a_summit_is_told_with_height_way_and_place(told) -> None:
    one = Advice(
        "summit", (), math.nan, 31_000.0, 9000.0, -27.48, 41.23, 512.0, 4210.0, 45.0
    )
    assert advice_section(*told(one)).table[1][1] == (
        "where the summit of 512 m shows on the plate (4.2 km to the north-east, at "
        "41.2300° N, 27.4800° W)"
    )


def test_missing_elevation_is_told_with_the_hill_that_would_matter(told) -> None:
    missing = (MissingGround(2.0, 12.4, 8_040.0, 461.0),)
    (line,) = advice_section(*told(missing=missing)).lines
    assert line == (
        "Your elevation ends 8 km to the north; hills beyond would matter: one of "
        "461 m at its edge would stand above the skyline, over 12° of the picture."
    )


def test_nothing_to_advise_says_nothing(told) -> None:
    section = advice_section(*told())
    assert (section.lines, section.table) == ((), ())


def test_no_hill_of_0_m_is_said_to_stand_above_the_skyline(told) -> None:
    (line,) = advice_section(
        *told(missing=(MissingGround(2.0, 12.4, 8_040.0, 0.0),))
    ).lines
    assert "land of any height at its edge would stand above the skyline" in line
