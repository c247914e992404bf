"""Check that settings refuse what cannot be worked with."""

from __future__ import annotations

from typing import Any

import pytest

from wherestood.errors import InputError, LensError
from wherestood.fix.settings import FootingHeight, LocateSettings


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"near_enough_m": 0}, "near enough must be between"),
        ({"near_enough_m": float("nan")}, "near enough"),
        ({"refraction": 3.0}, "refraction"),
        ({"horizon_radius_m": 10.0}, "horizon radius"),
        ({"footing": "balloon"}, "'balloon' is not known"),
        ({"surface": "moon"}, "ground, top, unknown"),
        ({"process": "oil"}, "glass negative"),
        ({"seed": -1}, "seed"),
        ({"lens_height_m": -2.0}, "lens height"),
    ],
)
def test_a_wrong_setting_is_named(wrong: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        LocateSettings(**wrong)


@pytest.mark.parametrize(
    "wrong",
    [
        {"principal_distance_mm": 300.0},
        {"principal_distance_mm": -1.0, "principal_distance_sd_mm": 3.0},
        {"principal_distance_mm": 300.0, "principal_distance_sd_mm": 0.0},
    ],
)
def test_impossible_lens_limits_are_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(LensError):
        LocateSettings(**wrong)


def test_lens_height_follows_the_footing_unless_given() -> None:
    assert LocateSettings().lens_height == FootingHeight(1.5, 0.3, "ground")
    assert LocateSettings(footing="ship").lens_height.over == "water"
    given = LocateSettings(footing="roof", lens_height_m=12.0)
    assert given.lens_height.mean_m == 12.0
