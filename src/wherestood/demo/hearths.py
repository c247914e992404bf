"""Tell what a walker found of the demo's cottages: evidence beside the skyline.

All of it is *invented*. The walker's places are off by as much as such a receiver is,
and the marks by what a careful eye is, drawn from a seed; neither was chosen to fit.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wherestood.demo.truth import CHIMNEYS, DemoScene, chimney_tops

__all__ = ["HEARTHS_FILE", "hearths_text", "write_hearths"]

HEARTHS_FILE = "hearths.toml"
_SEED = 1999
_RECEIVER_SD_M = 5.0  # of a place read off a hand receiver under trees
_MARK_SD_PX = 2.0
#: What a chimney of such a cottage stood to, and how far they differ [m].
_CHIMNEY_M, _CHIMNEY_SD_M = 5.4, 0.6
_SIDES = ("left", "right")

_HEAD = """\
# What a walker found of the two cottages on the plate. All of it is invented.
#
# The cottages burnt down, but their hearths are still there in the scrub: two heaps of
# stone, whose places the walker read off a hand receiver. On the plate the tops of both
# chimneys show against the hill.

wherestood = 1
plate = "{place}: a paddock with two cottages"
"""
_FEATURE = """
[[feature]]
id = "{side}-hearth"
name = "Hearth of the {side} cottage"
what = "chimney"
point = [{lon:.6f}, {lat:.6f}]
sd_m = {sd_m:g}                  # how far off the receiver may well be
object_height_m = {tall_m:g}       # a chimney of such a cottage, foot to top ...
object_height_sd_m = {tall_sd_m:g}    # ... give or take
source = "a walker's notebook"
"""
_MARK = """
[[mark]]
id = "{letter}"
feature = "{side}-hearth"
at = "top"
x_px = {x:.0f}
y_px = {y:.0f}
sd_px = {sd_px:g}
note = "the {side} cottage's chimney, its top"
"""


def write_hearths(path: Path, scene: DemoScene, place: str) -> None:
    """Write the evidence file."""
    path.write_text(hearths_text(scene, place), encoding="utf-8")


def hearths_text(scene: DemoScene, place: str) -> str:
    """Return the evidence file: two features, and a mark on each."""
    draw = np.random.default_rng(_SEED)
    tops_m = chimney_tops(scene)
    found_m = tops_m[:, :2] + draw.normal(0.0, _RECEIVER_SD_M, (len(CHIMNEYS), 2))
    seen_px = _seen(scene, tops_m) + draw.normal(0.0, _MARK_SD_PX, (len(CHIMNEYS), 2))
    order = np.argsort(seen_px[:, 0])  # as they stand on the plate, from the left
    text = [_HEAD.format(place=place)]
    for side, one in zip(_SIDES, order, strict=True):
        lon, lat = scene.stage.to_lonlat(*map(float, found_m[one]))
        text.append(
            _FEATURE.format(
                side=side,
                lon=lon,
                lat=lat,
                sd_m=_RECEIVER_SD_M,
                tall_m=_CHIMNEY_M,
                tall_sd_m=_CHIMNEY_SD_M,
            )
        )
    for letter, side, one in zip("AB", _SIDES, order, strict=True):
        x, y = seen_px[one]
        text.append(_MARK.format(letter=letter, side=side, x=x, y=y, sd_px=_MARK_SD_PX))
    return "".join(text)


def _seen(scene: DemoScene, points_m: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return where points show on the plate [px]."""
    return np.column_stack(scene.camera.project(points_m - scene.eye_m))
