"""A tiled copy shows what the scan does, upright and positive."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips

from wherestood.errors import CancelledError, PlateError
from wherestood.plate.scan import Plate
from wherestood.plate.served.render import render
from wherestood.plate.served.request import read_request
from wherestood.plate.served.tiled_copy import make_tiled_copy, open_tiled_copy
from wherestood.plate.served.tones import read_tones

ONE_TONE = 1.0 / 255.0


def grain(height: int = 300, width: int = 420) -> np.ndarray:
    return np.random.default_rng(1).integers(0, 255, (height, width), dtype=np.uint8)


def written(path: Path, pixels: np.ndarray, **options: Any) -> Path:
    image = pyvips.Image.new_from_array(pixels)
    kind = "ushort" if pixels.dtype == np.uint16 else "uchar"
    grey = {"uchar": "b-w", "ushort": "grey16"}[kind]
    if image.bands == 1:
        image = image.cast(kind).copy(interpretation=grey)
    else:
        image = image.cast(kind).copy(interpretation="srgb")
    if "orientation" in options:
        image = image.copy()
        image.set_type(pyvips.GValue.gint_type, "orientation", options["orientation"])
    image.write_to_file(str(path))
    return path


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
@pytest.mark.parametrize("negative", [False, True])
def test_copy_is_what_a_search_sees(
    tmp_path: Path, orientation: int, negative: bool
) -> None:
    scan = written(tmp_path / "scan.tif", grain(), orientation=orientation)
    plate = Plate.open(scan, negative=negative)
    make_tiled_copy(scan, tmp_path / "copy.tif", negative=negative)
    copy = open_tiled_copy(tmp_path / "copy.tif")
    assert (copy.width_px, copy.height_px) == (plate.width_px, plate.height_px)
    seen = read_tones(copy, 37, 21, 120, 90)
    assert seen == pytest.approx(plate.window(37, 21, 120, 90), abs=ONE_TONE / 2)


def test_deep_scan_keeps_its_tones(tmp_path: Path) -> None:
    deep = (grain().astype(np.uint16) << 8) + 77
    scan = written(tmp_path / "deep.tif", deep)
    make_tiled_copy(scan, tmp_path / "copy.tif", negative=False)
    copy = open_tiled_copy(tmp_path / "copy.tif")
    seen = read_tones(copy, 0, 0, 420, 300)
    assert seen == pytest.approx(deep / 65535.0, abs=ONE_TONE)


def test_each_level_is_half_of_the_one_before(tmp_path: Path) -> None:
    scan = written(tmp_path / "scan.png", grain(1100, 1500))
    make_tiled_copy(scan, tmp_path / "copy.tif", negative=False)
    levels = open_tiled_copy(tmp_path / "copy.tif").levels
    for large, small in itertools.pairwise(levels):
        assert abs(large[0] / 2 - small[0]) <= 1
        assert abs(large[1] / 2 - small[1]) <= 1
    assert max(levels[-1]) <= 256


def test_colour_is_kept_and_can_be_asked_for_grey(tmp_path: Path) -> None:
    colour = np.zeros((64, 80, 3), dtype=np.uint8)
    colour[..., 0], colour[..., 2] = 200, 40
    scan = written(tmp_path / "colour.png", colour)
    make_tiled_copy(scan, tmp_path / "copy.tif", negative=False)
    copy = open_tiled_copy(tmp_path / "copy.tif")
    for quality, bands in (("color", 3), ("gray", 1), ("default", 3)):
        piece = read_request("full", "max", "0", quality, "png", 80, 64)
        image = pyvips.Image.new_from_buffer(render(copy, piece), "")
        assert image.bands == bands
        if bands == 3:
            assert image(3, 3) == [200.0, 0.0, 40.0]


def test_scan_that_ends_too_soon_leaves_nothing(tmp_path: Path) -> None:
    whole = written(tmp_path / "scan.png", grain()).read_bytes()
    (tmp_path / "short.png").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(PlateError):
        make_tiled_copy(tmp_path / "short.png", tmp_path / "copy.tif", negative=False)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["scan.png", "short.png"]


def test_damaged_copy_is_told_as_such(tmp_path: Path) -> None:
    (tmp_path / "copy.tif").write_bytes(b"II*\0nothing")
    with pytest.raises(PlateError, match="made anew"):
        open_tiled_copy(tmp_path / "copy.tif")


def test_arbitrary_turn_leaves_its_corners_clear(tmp_path: Path) -> None:
    scan = written(tmp_path / "scan.png", np.full((64, 64), 90, dtype=np.uint8))
    make_tiled_copy(scan, tmp_path / "copy.tif", negative=False)
    copy = open_tiled_copy(tmp_path / "copy.tif")
    piece = read_request("full", "max", "45", "default", "png", 64, 64)
    image = pyvips.Image.new_from_buffer(render(copy, piece), "")
    assert image(0, 0)[-1] == 0.0
    assert image(image.width // 2, image.height // 2) == [90.0, 255.0]


def test_copy_tells_how_far_it_is_and_can_be_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wherestood.plate.served.tiled_copy._LOOK_S", 0.0)

    class Told:
        def __init__(self, patience: int) -> None:
            self.asked, self.steps, self.patience = 0, 0, patience

        def stage(self, name: str, total: int | None = None) -> None:
            raise AssertionError(name, total)

        def advance(self, steps: int = 1) -> None:
            self.asked, self.steps = self.asked + 1, self.steps + steps
            if self.asked > self.patience:
                raise CancelledError("Stopped.")

    scan = written(tmp_path / "scan.tif", grain(2000, 600))
    patient, hasty = Told(10**9), Told(0)
    make_tiled_copy(scan, tmp_path / "copy.tif", negative=False, progress=patient)
    assert patient.steps == 100
    (tmp_path / "copy.tif").unlink()
    with pytest.raises(CancelledError):
        make_tiled_copy(scan, tmp_path / "copy.tif", negative=False, progress=hasty)
    assert [path.name for path in tmp_path.iterdir()] == ["scan.tif"]
