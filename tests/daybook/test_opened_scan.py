"""Check that a scan is opened as its row says."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from wherestood.daybook.opened_scan import opened_scan
from wherestood.daybook.tables import Plate, Scan
from wherestood.errors import PlateError


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with a file of two pages, the second a larger picture."""
    pages = [
        Image.fromarray(np.full((rows, columns), tone, dtype=np.uint8))
        for rows, columns, tone in ((120, 160, 90), (300, 400, 200))
    ]
    pages[0].save(tmp_path / "two.tif", save_all=True, append_images=pages[1:])
    return tmp_path


def test_the_page_its_row_names_is_opened(folder: Path) -> None:
    plate = Plate(key="a")
    first = opened_scan(folder, plate, Scan(file="two.tif"))
    second = opened_scan(folder, plate, Scan(file="two.tif", page=1))
    assert (first.width_px, first.height_px) == (160, 120)
    assert (second.width_px, second.height_px) == (400, 300)
    with pytest.raises(PlateError, match="page 7"):
        opened_scan(folder, plate, Scan(file="two.tif", page=7))


def test_marked_corners_set_the_scale(folder: Path) -> None:
    """A whole plate (216 x 165 mm) of 216 x 165 px within a margin: 1 px a mm."""
    plate = Plate(key="a", size="216x165mm")
    corners = [[50.0, 60.0], [266.0, 60.0], [266.0, 225.0], [50.0, 225.0]]
    scan = Scan(file="two.tif", page=1, corners_px=corners)
    opened = opened_scan(folder, plate, scan)
    assert opened.px_per_mm == pytest.approx(1.0)
    assert opened.corners_px is not None
    bare = opened_scan(folder, plate, Scan(file="two.tif", page=1))
    assert bare.px_per_mm == pytest.approx(400 / 216, rel=0.02)
