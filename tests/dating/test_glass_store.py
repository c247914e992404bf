"""Check weights of glass against what the trade knew."""

from __future__ import annotations

import pytest

from wherestood.dating.glass_store import CAUTIONS, GlassLot, plate_kg, shelf_load
from wherestood.errors import InputError

IN = 25.4


@pytest.mark.parametrize(
    ("sides_in", "thickness_mm", "kg"),
    [
        ((8.5, 6.5), 2.0, 0.18),
        ((10, 8), 3.0, 0.39),
        ((12, 10), 3.0, 0.58),
        ((15, 12), 3.0, 0.87),
        ((21, 18), 4.0, 2.4),
    ],
)
def test_weights_agree_with_sums_at_2_5_grams(
    sides_in: tuple[float, float], thickness_mm: float, kg: float
) -> None:
    """SOURCE: sides times thickness times 2.5 g/cm3, worked by hand."""
    made = plate_kg(sides_in[0] * IN, sides_in[1] * IN, thickness_mm)
    assert made == pytest.approx(kg, abs=0.05 if kg > 1 else 0.006)


def test_twenty_field_plates_weigh_about_six_kilograms() -> None:
    """SOURCE: common practice; 10 x 8 in of field glass, 2.5 mm."""
    load = shelf_load([GlassLot(20, 10 * IN, 8 * IN, 2.5)], 50.0)
    assert load.glass_kg == pytest.approx(6.0, abs=1.0)


def test_six_thousand_studio_plates_weigh_over_a_tonne() -> None:
    """SOURCE: common practice; whole plates of 2 mm."""
    load = shelf_load([GlassLot(6000, 8.5 * IN, 6.5 * IN, 2.0)], 2000.0)
    assert 1000.0 < load.glass_kg < 1200.0
    assert load.whole_kg > load.glass_kg


def test_a_shelf_too_heavy_is_said_to_be_so() -> None:
    load = shelf_load([GlassLot(300, 10 * IN, 8 * IN, 3.0)], 100.0)
    assert load.share > 1.0
    assert "too much" in load.words


def test_a_conservator_s_word_goes_first() -> None:
    assert "conservator" in CAUTIONS[0]
    text = " ".join(CAUTIONS)
    for word in ("long edge", "gloves", "residues", "Broken", "nitrate"):
        assert word in text


def test_limits_and_sizes_that_cannot_be_are_refused() -> None:
    with pytest.raises(InputError, match="carries nothing"):
        shelf_load([], 0.0)
    with pytest.raises(InputError, match="thickness of 30 mm"):
        plate_kg(200.0, 150.0, 30.0)
    with pytest.raises(InputError, match="cannot be"):
        shelf_load([GlassLot(-1, 200.0, 150.0, 2.0)], 10.0)
