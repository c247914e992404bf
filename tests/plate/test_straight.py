"""Check how a scan is straightened to the plate that its corners outline."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from wherestood.errors import PlateError
from wherestood.plate.scan import Plate
from wherestood.plate.straight import straight_plate

WIDTH_PX, HEIGHT_PX = 1200, 1000
#: A plate of 4 to 3, turned by two degrees on a scan with a margin.
TURN = np.radians(2.0)
ROUNDING_PX = 1e-6
HALF_A_PIXEL = 0.5


def turned(x_px: float, y_px: float) -> tuple[float, float]:
    """Return where a point of an 800 x 600 px plate lies on the scan."""
    x, y = x_px - 400.0, y_px - 300.0
    return (
        float(620.0 + x * np.cos(TURN) - y * np.sin(TURN)),
        float(480.0 + x * np.sin(TURN) + y * np.cos(TURN)),
    )


CORNERS = (turned(0, 0), turned(800, 0), turned(800, 600), turned(0, 600))


@pytest.fixture
def scan(tmp_path: Path) -> Path:
    path = tmp_path / "scan.png"
    Image.new("L", (WIDTH_PX, HEIGHT_PX), 120).save(path)
    return path


def test_without_corners_the_scan_is_the_plate(scan: Path) -> None:
    assert straight_plate(Plate.open(scan, negative=False)) is None


def test_a_turned_plate_is_straightened(scan: Path) -> None:
    plate = Plate.open(scan, negative=False, corners=CORNERS)
    straight = straight_plate(plate)
    assert straight is not None
    assert (straight.width_px, straight.height_px) == (800, 600)
    for point in ((0.0, 0.0), (800.0, 600.0), (400.0, 300.0), (130.0, 520.0)):
        np.testing.assert_allclose(
            straight.to_plate(turned(*point)), point, atol=ROUNDING_PX
        )
        np.testing.assert_allclose(
            straight.to_scan(point), turned(*point), atol=ROUNDING_PX
        )
    assert straight.scale_at(turned(300, 200)) == pytest.approx(1.0)


def test_a_plate_seen_aslant_comes_out_with_its_own_sides(scan: Path) -> None:
    aslant = ((100.0, 100.0), (1100.0, 140.0), (1060.0, 880.0), (140.0, 900.0))
    plate = Plate.open(scan, negative=False, size=(216.0, 165.0), corners=aslant)
    straight = straight_plate(plate)
    assert straight is not None
    ratio = straight.width_px / straight.height_px
    assert ratio == pytest.approx(216.0 / 165.0, rel=HALF_A_PIXEL / 700.0 * 2.0)
    np.testing.assert_allclose(
        straight.to_plate(aslant[2]), (straight.width_px, straight.height_px)
    )


def test_what_lies_on_the_margin_is_not_on_the_plate(scan: Path) -> None:
    straight = straight_plate(Plate.open(scan, negative=False, corners=CORNERS))
    assert straight is not None
    points = [turned(5, 5), turned(-5, 300), turned(400, 605), turned(400, 300)]
    assert straight.holds(points).tolist() == [True, False, False, True]


def test_size_and_corners_told_later_are_those_given_on_opening(scan: Path) -> None:
    early = Plate.open(scan, negative=False, size="216x165mm", corners=CORNERS)
    late = Plate.open(scan, negative=False).told(size="216x165mm", corners=CORNERS)
    assert late.size_mm == early.size_mm
    assert late.px_per_mm == pytest.approx(early.px_per_mm)
    assert late.corners_px == early.corners_px
    # What was given on opening stands.
    again = early.told(size="100x75mm", corners=None)
    assert again.size_mm == early.size_mm


def test_corners_that_cross_are_refused(scan: Path) -> None:
    crossed = (CORNERS[0], CORNERS[2], CORNERS[1], CORNERS[3])
    with pytest.raises(PlateError, match="convex"):
        Plate.open(scan, negative=False).told(size=None, corners=crossed)
