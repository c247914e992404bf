"""Local contrast brings faint things out, within bounds."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import pyvips

from wherestood.plate.served import render as drawn
from wherestood.plate.served.render import LOCAL_PX, LOCAL_SLOPE, Viewing, render
from wherestood.plate.served.request import read_request
from wherestood.plate.served.tiled_copy import make_tiled_copy, open_tiled_copy

SIDE_PX = 300
#: What was clipped is spread over all tones, which adds at most one to the slope.
STEEPEST = LOCAL_SLOPE + 1.0


@pytest.mark.parametrize("step", [6.0, 12.0])
def test_faint_hill_in_haze_stands_out_and_no_more_than_it_may(
    tmp_path: Path, step: float
) -> None:
    rng = np.random.default_rng(3)
    hazy = 200.0 + rng.normal(0.0, 2.0, (SIDE_PX, SIDE_PX))
    hazy[SIDE_PX // 2 :] -= step  # the far hill's edge runs across the middle
    scan = tmp_path / "scan.tif"
    image = pyvips.Image.new_from_array(np.round(hazy).astype(np.uint8))
    image.copy(interpretation="b-w").write_to_file(str(scan))
    make_tiled_copy(scan, tmp_path / "copy.tif", negative=False)
    copy = open_tiled_copy(tmp_path / "copy.tif")
    asked = read_request("full", "max", "0", "default", "png", SIDE_PX, SIDE_PX)
    shown = pyvips.Image.new_from_buffer(
        render(copy, asked, Viewing(local=True)), ""
    ).numpy()
    # A band within the square about the edge: there both tones are seen together.
    middle = SIDE_PX // 2
    above = shown[middle - 12 : middle - 2].mean()
    below = shown[middle + 2 : middle + 12].mean()
    assert 1.8 * step < above - below < STEEPEST * step


@pytest.mark.parametrize("region", ["150,150,1,1", "0,0,2,1", "150,0,2,300"])
def test_enlarged_piece_holds_no_more_than_the_filter_reaches(
    tmp_path: Path, region: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    pyvips.Image.black(SIDE_PX, SIDE_PX).write_to_file(str(tmp_path / "scan.tif"))
    make_tiled_copy(tmp_path / "scan.tif", tmp_path / "copy.tif", negative=False)
    held: list[tuple[int, int]] = []

    def look(image: pyvips.Image) -> pyvips.Image:
        held.append((image.width, image.height))
        return image

    monkeypatch.setattr(drawn, "_evened", look)
    asked = read_request(region, "^900,600", "0", "default", "png", SIDE_PX, SIDE_PX)
    render(open_tiled_copy(tmp_path / "copy.tif"), asked, Viewing(local=True))
    [(across, down)] = held
    assert across <= asked.across + 2 * LOCAL_PX
    assert down <= asked.down + 2 * LOCAL_PX
