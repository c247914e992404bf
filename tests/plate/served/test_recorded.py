"""A colour picture is shown as an early emulsion would have recorded it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyvips

from wherestood.dating.emulsion import EMULSIONS, as_recorded
from wherestood.plate.served.render import Viewing, render
from wherestood.plate.served.request import read_request
from wherestood.plate.served.tiled_copy import make_tiled_copy, open_tiled_copy

PATCH_PX = 64
#: Grass, brick, sky, paper: invented codes of a photograph of today.
COLOURS = [(60, 120, 40), (170, 70, 50), (110, 160, 230), (240, 238, 230)]
#: The copy is kept as JPEG, and codes are whole numbers.
THREE_CODES = 3.0


def test_patches_are_as_dark_as_by_the_sum_in_light_itself(tmp_path: Path) -> None:
    patches = np.repeat(np.array([COLOURS], dtype=np.uint8), PATCH_PX, axis=1)
    picture = np.repeat(patches, PATCH_PX, axis=0)
    scan = tmp_path / "today.tif"
    pyvips.Image.new_from_array(picture).copy(interpretation="srgb").write_to_file(
        str(scan)
    )
    make_tiled_copy(scan, tmp_path / "copy.tif", negative=False)
    copy = open_tiled_copy(tmp_path / "copy.tif")
    asked = read_request("full", "max", "0", "default", "png", *picture.shape[1::-1])
    middles = PATCH_PX // 2 + PATCH_PX * np.arange(len(COLOURS))
    for name, light in EMULSIONS.items():
        shown = pyvips.Image.new_from_buffer(
            render(copy, asked, Viewing(light=light)), ""
        ).numpy()
        greys = shown[PATCH_PX // 2, middles].reshape(-1).astype(float)
        wanted = as_recorded(picture, name)[PATCH_PX // 2, middles]
        assert np.abs(greys - wanted).max() <= THREE_CODES, name
    # The last, orthochromatic: grass and brick stay darker than a sky.
    assert greys[:2].max() < greys[2]
