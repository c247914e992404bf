"""Check what is said of ridge lines."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from wherestood.fix.result import Fix
from wherestood.record.ridge_words import ridges_sentence
from wherestood.record.words import plain_words


def _items(*odds: float | None) -> tuple[dict[str, Any], ...]:
    ridges = [
        {"id": f"ridge line {k}", "kind": "ridge line", "trust": 0.4, "log_odds": value}
        for k, value in enumerate(odds)
    ]
    return ({"id": "skyline", "kind": "skyline"}, *ridges)


@pytest.fixture
def located(scene: ModuleType, tmp_path: Path) -> Fix:
    fix: Fix = scene.scene(tmp_path)[0]
    return fix


@pytest.mark.parametrize(
    ("odds", "told"),
    [
        ((), ""),
        (
            (3.0, 1.1, 0.9, -0.5),
            "Of 4 ridge lines traced inside the picture, 2 agree with the ground seen "
            "from there; what is left may be edges of shade or of woods.",
        ),
        (
            (3.0,),
            "Of 1 ridge line traced inside the picture, 1 agrees with the ground seen "
            "from there.",
        ),
        (
            (0.0, -0.2, None),
            "Of 2 ridge lines traced inside the picture, none agrees with the ground "
            "seen from there; what is left may be edges of shade or of woods. 1 more "
            "is too short to count.",
        ),
        (
            (2.0, 2.0, None, None),
            "Of 2 ridge lines traced inside the picture, 2 agree with the ground seen "
            "from there. 2 more are too short to count.",
        ),
        (
            (None,),
            "No ridge line traced inside the picture is long enough to count.",
        ),
    ],
)
def test_ridge_lines_are_counted_in_one_plain_sentence(
    located: Fix, odds: tuple[float | None, ...], told: str
) -> None:
    assert ridges_sentence(replace(located, evidence=_items(*odds))) == told


def test_where_no_place_is_settled_the_likeliest_is_named(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, _ = scene.scene(tmp_path, "not determined")
    told = ridges_sentence(replace(fix, evidence=_items(2.0)))
    assert told.endswith("the ground seen from the likeliest place.")


def test_the_sentence_stands_on_the_page_if_lines_were_used(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path)
    for made, expected in (
        ((fix, inputs), False),
        (scene.with_ridges(fix, inputs), True),
    ):
        why = next(part for part in plain_words(*made) if part.heading == "Why")
        assert any("ridge line" in line for line in why.lines) is expected
