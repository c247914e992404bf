"""Check that pieces of a skyline become one line, broken between them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from wherestood.errors import EvidenceError
from wherestood.evidence.items import SkylinePiece
from wherestood.evidence.joined import (
    RETOUCHED_SD_SHARE,
    joined_skyline,
    without_skyline,
)
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline

WIDTH_PX, HEIGHT_PX = 1000, 800


def piece(start_px: float, stop_px: float, y_px: float, **given) -> SkylinePiece:
    x_px = np.arange(start_px, stop_px, 10.0)
    broken = np.zeros(x_px.size, dtype=bool)
    broken[x_px.size // 2] = True
    line = Skyline(
        x_px,
        np.full(x_px.size, y_px),
        np.full(x_px.size, 2.0),
        WIDTH_PX,
        HEIGHT_PX,
        broken,
        source=f"piece at {start_px:g}",
    )
    return SkylinePiece(line, **given)


def test_pieces_in_any_order_run_from_left_to_right() -> None:
    left, right = piece(0.0, 200.0, 300.0), piece(500.0, 900.0, 350.0)
    joined = joined_skyline((right, left))
    assert joined is not None
    np.testing.assert_array_equal(
        joined.x_px, np.concatenate([left.line.x_px, right.line.x_px])
    )
    np.testing.assert_array_equal(
        joined.y_px, np.concatenate([left.line.y_px, right.line.y_px])
    )


def test_the_line_breaks_between_pieces_and_where_they_broke() -> None:
    joined = joined_skyline((piece(0.0, 200.0, 300.0), piece(500.0, 900.0, 350.0)))
    assert joined is not None
    # 20 and 40 points, each broken after its middle.
    assert np.flatnonzero(joined.break_after).tolist() == [10, 19, 40]


def test_one_piece_well_trusted_stays_as_it_is() -> None:
    only = piece(0.0, 500.0, 300.0)
    joined = joined_skyline((only,))
    assert joined is not None
    for name in ("x_px", "y_px", "sd_px", "break_after"):
        np.testing.assert_array_equal(getattr(joined, name), getattr(only.line, name))


def test_no_piece_is_no_skyline() -> None:
    assert joined_skyline(()) is None


def test_a_sky_that_may_be_painted_is_doubted_and_its_neighbour_is_not() -> None:
    joined = joined_skyline(
        (piece(0.0, 200.0, 300.0), piece(500.0, 900.0, 350.0, retouched=True))
    )
    assert joined is not None
    painted_px = np.hypot(2.0, RETOUCHED_SD_SHARE * WIDTH_PX)
    np.testing.assert_allclose(joined.sd_px[:20], 2.0)
    np.testing.assert_allclose(joined.sd_px[20:], painted_px)


def test_a_piece_counts_less_the_less_it_is_trusted() -> None:
    sds = [
        float(joined.sd_px[0])
        for trust in (1.0, 0.95, 0.6, 0.3)
        if (joined := joined_skyline((piece(0.0, 200.0, 300.0, trust=trust),)))
    ]
    assert sds[0] == sds[1] == 2.0
    assert sds[1] < sds[2] < sds[3]


def test_pieces_over_the_same_columns_are_refused() -> None:
    with pytest.raises(EvidenceError, match="both run over column 150") as caught:
        joined_skyline((piece(0.0, 190.0, 300.0), piece(150.0, 900.0, 350.0)))
    assert "Cut one" in str(caught.value)


def test_two_readers_of_one_stretch_measure_its_doubt() -> None:
    """Half way between lines 8 px apart, each erring by that over the root of two."""
    one, two = piece(0.0, 900.0, 300.0), piece(5.0, 905.0, 308.0)
    joined = joined_skyline((one, two))
    assert joined is not None
    np.testing.assert_allclose(joined.y_px[10:400], 304.0)
    doubt_px = np.sqrt(2.0**2 + 8.0**2 / 2.0)
    np.testing.assert_allclose(joined.sd_px[40:400], doubt_px, rtol=0.01)
    assert "typically 8 px apart" in joined.notes[-1]


def test_a_reader_may_have_traced_in_pieces() -> None:
    whole = piece(0.0, 900.0, 300.0)
    parts = piece(5.0, 405.0, 304.0), piece(455.0, 905.0, 304.0)
    joined = joined_skyline((parts[1], whole, parts[0]))
    assert joined is not None
    np.testing.assert_allclose(joined.y_px[20:150], 302.0)


def test_three_readers_are_refused() -> None:
    with pytest.raises(EvidenceError, match="Three pieces"):
        joined_skyline(tuple(piece(0.0, 900.0, y) for y in (300.0, 302.0, 304.0)))


def test_a_plate_without_a_skyline_is_recorded_with_its_size(tmp_path: Path) -> None:
    path = tmp_path / "invented.png"
    Image.new("L", (WIDTH_PX, HEIGHT_PX), 120).save(path)
    nothing = without_skyline(Plate.open(path, negative=False))
    assert nothing.x_px.size == nothing.break_after.size == 0
    assert (nothing.width_px, nothing.height_px) == (WIDTH_PX, HEIGHT_PX)
