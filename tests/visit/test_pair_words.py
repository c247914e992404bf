"""Test what a sheet says of a near and a far thing."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from wherestood.visit.pair_words import pair_heading, pair_sentences
from wherestood.visit.parallax import SeenThing, parallax_pairs

NEAR = SeenThing("gate post", 0.0, 20.0, 0.3, 100.0, 200.0)
FAR = SeenThing("church", 3.0, 200.0, 3.0, 120.0, 150.0)


@pytest.fixture
def pair():
    return parallax_pairs([NEAR, FAR], (0.0, 0.0), 3000.0)[0]


def test_gap_of_the_picture_is_what_to_look_for(pair) -> None:
    marked = replace(
        pair, picture_rad=math.radians(-1.8), picture_sd_rad=math.radians(0.05)
    )
    assert pair_heading(marked) == "church against gate post"
    first, second, move = pair_sentences(marked, math.radians(0.4))
    assert first == (
        "On the picture church (200 m off) shows 1.8 degrees left of gate post (20 m "
        "off), give or take 0.1: stand where it shows so."
    )
    assert "0.9 degrees right of it, give or take 0.4" in second
    # A tenth of a degree twice, by hand: 0.14 degrees of 2.58 a metre.
    assert "one metre is 2.6 degrees" in move
    assert "Good to 0.055 m, read to a tenth of a degree." in move


def test_gap_worked_out_says_that_the_picture_is_right(pair) -> None:
    first, move = pair_sentences(pair, math.radians(0.4))
    assert "From the likeliest spot church" in first
    assert first.endswith("Where the picture shows another gap, the picture is right.")
    # By hand: 0.3 m at 20 m and 3 m at 200 m make 1.2 degrees, of 2.58 a metre.
    assert "Good to 0.47 m, as the two are known." in move
