"""Check the evidence beside the demo: it is what a walker would have found."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wherestood.demo.hearths import write_hearths
from wherestood.demo.truth import DemoScene, build_scene, chimney_tops
from wherestood.evidence.file import read_evidence

#: Four standard errors of what was drawn.
FAR_M, FAR_PX = 20.0, 8.0


@pytest.fixture(scope="module")
def scene() -> DemoScene:
    return build_scene()


def test_the_chimneys_are_where_the_plate_is_made_from(scene: DemoScene) -> None:
    """A ray to just below each top meets something dark there; above it none does."""
    from wherestood.demo.props import PropScene

    cast = PropScene(scene.props)
    for top_m in chimney_tops(scene):
        for below_m, hits in ((0.15, True), (-0.15, False)):
            ray = top_m - [0.0, 0.0, below_m] - scene.eye_m
            length_m = np.linalg.norm(ray)
            along_m, _ = cast.first_hits(scene.eye_m, (ray / length_m)[None])
            assert bool(abs(along_m[0] - length_m) < 1.0) is hits


def test_the_file_is_read_whole_and_holds_what_was_found(
    scene: DemoScene, tmp_path: Path
) -> None:
    path = tmp_path / "hearths.toml"
    write_hearths(path, scene, "Vellin Water")
    checked = read_evidence(
        path, width_px=scene.camera.width_px, height_px=scene.camera.height_px
    )
    assert checked.complaints == ()
    marks = sorted(checked.evidence.marks, key=lambda mark: mark.x_px)
    tops_m = chimney_tops(scene)
    x, y = scene.camera.project(tops_m - scene.eye_m)
    order = np.argsort(x)
    for mark, one in zip(marks, order, strict=True):
        assert np.hypot(mark.x_px - x[one], mark.y_px - y[one]) < FAR_PX
        assert mark.at == "top"
        (feature,) = mark.features
        lon, lat = scene.stage.to_lonlat(*tops_m[one, :2])
        place = checked.evidence.features[int(one != order[0])].place
        east_m = (place.x - lon) * 111_320.0 * np.cos(np.radians(lat))
        assert np.hypot(east_m, (place.y - lat) * 111_320.0) < FAR_M
        assert feature.feature_id in ("left-hearth", "right-hearth")
