"""Local contrast brings faint things out, within bounds."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import pyvips

from wherestood.plate.served.render import LOCAL_SLOPE, Viewing, render
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
