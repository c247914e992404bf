"""Check plate sizes against their published inches."""

import pytest

from wherestood.errors import PlateError
from wherestood.plate.formats import plate_formats, size_mm

A_MICROMETRE = 0.001


@pytest.mark.parametrize(
    ("text", "sides_in"),
    [
        # The Century Dictionary, under half-plate (read in the source).
        ("half plate (English)", (6.5, 4.75)),
        ("half plate (US)", (5.5, 4.25)),
        ("whole plate", (8.5, 6.5)),
        ("Whole-Plate", (8.5, 6.5)),
        ("8.5x6.5in", (8.5, 6.5)),
        ('6½ × 8½"', (6.5, 8.5)),
        ("6 1/2 x 8 1/2 inches", (6.5, 8.5)),
        ("10x8 in", (10.0, 8.0)),
    ],
)
def test_sizes_in_inches_come_back_in_millimetres(text, sides_in):
    expected = tuple(25.4 * side for side in sides_in)
    assert size_mm(text) == pytest.approx(expected, abs=A_MICROMETRE)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("216x165mm", (216, 165)),
        ("13 x 18 cm", (130, 180)),
        ("13x18 cm", (130, 180)),
        ("215.90x165.10mm", (215.9, 165.1)),
    ],
)
def test_metric_sizes_keep_the_order_given(text, expected):
    assert size_mm(text) == pytest.approx(expected, abs=A_MICROMETRE)


def test_half_plate_alone_names_both_of_its_meanings():
    with pytest.raises(PlateError, match="stands for two") as raised:
        size_mm("half plate")
    assert "half plate (English)" in raised.value.remedy
    assert "half plate (US)" in raised.value.remedy


def test_unknown_name_is_answered_with_the_near_ones():
    with pytest.raises(PlateError, match="No plate size") as raised:
        size_mm("hole plate")
    assert raised.value.remedy.startswith(
        "Near names: whole plate, half plate (English), half plate (US)."
    )


def test_name_near_no_other_is_answered_with_where_the_names_are():
    with pytest.raises(PlateError, match="No plate size") as raised:
        size_mm("cabinet card")
    assert raised.value.remedy.startswith("`wherestood sizes` lists those known.")


def test_size_without_a_unit_is_refused_with_the_units():
    with pytest.raises(PlateError, match="no unit") as raised:
        size_mm("216x165")
    assert "216x165mm" in raised.value.remedy


def test_absurd_side_is_refused_with_its_value():
    with pytest.raises(PlateError, match="4 mm"):
        size_mm("4x5mm")


def test_every_row_has_a_mark_and_a_source_and_its_name_reads_back():
    for row in plate_formats():
        assert row.mark in {"seen", "from memory"}
        assert row.source
        assert row.long_mm >= row.short_mm
        assert sorted(size_mm(row.name)) == pytest.approx(
            sorted((row.long_mm, row.short_mm)), abs=A_MICROMETRE
        )
