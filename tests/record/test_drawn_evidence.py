"""Check marks on the comparison and evidence on the map by what is drawn."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Annotation

from wherestood.fix.result import Fix
from wherestood.record.comparison import comparison_figure
from wherestood.record.inputs import FixInputs
from wherestood.record.map import map_figure
from wherestood.record.palette import IRON_BLUE, MADDER, STRAW
from wherestood.record.tags import Tag, write_tags

VERDICTS = ["located", "several places", "not determined"]


@pytest.fixture
def told(scene: ModuleType, tmp_path: Path) -> tuple[Fix, FixInputs]:
    found: tuple[Fix, FixInputs] = scene.with_evidence(*scene.scene(tmp_path))
    return found


def _signs(axes: Axes, marker: str, colour: str) -> list[tuple[float, float]]:
    return [
        (float(line.get_xdata()[0]), float(line.get_ydata()[0]))
        for line in axes.lines
        if line.get_marker() == marker
        and to_hex(line.get_markeredgecolor()).lower() == colour.lower()
    ]


def _lines(axes: Axes, colour: str, width_pt: float) -> list[Line2D]:
    return [
        line
        for line in axes.lines
        if line.get_marker() == "None"
        and to_hex(line.get_color()).lower() == colour.lower()
        and line.get_linewidth() == pytest.approx(width_pt)
    ]


def test_marks_stand_where_they_were_set_a_blunder_in_straw(
    told: tuple[Fix, FixInputs],
) -> None:
    plate = comparison_figure(*told).axes[0]
    assert _signs(plate, "+", MADDER) == [(700.0, 800.0), (300.0, 1000.0)]
    assert _signs(plate, "x", STRAW) == [(1100.0, 760.0)]


def test_a_line_leads_to_where_the_feature_should_show(
    told: tuple[Fix, FixInputs],
) -> None:
    plate = comparison_figure(*told).axes[0]
    # B lies 200 px right of and 20 px above its place, A 0.9 right and 1.2 below.
    assert _signs(plate, "o", IRON_BLUE) == [(699.1, 798.8), (900.0, 780.0)]
    ways = [np.array(w.get_xydata()) for w in _lines(plate, IRON_BLUE, 1.1)]
    wanted = [(1100.0, 760.0), (900.0, 780.0)]
    assert any(len(w) == 2 and np.allclose(w, wanted) for w in ways)


def test_edges_waters_and_sizes_stand_where_they_were_set(
    told: tuple[Fix, FixInputs],
) -> None:
    figure = comparison_figure(*told)
    drawn = [
        (to_hex(line.get_color()).lower(), np.array(line.get_xydata()))
        for line in figure.axes[0].lines
        if len(line.get_xdata()) > 1
    ]

    def there(colour: str, points: list[Any]) -> bool:
        return any(
            one == colour.lower()
            and at.shape == (len(points), 2)
            and np.allclose(at, points, atol=0.5)
            for one, at in drawn
        )

    lake = [(1200.0, 905.0), (1350.0, 904.0), (1500.0, 903.0)]
    assert there(STRAW, [(400.0, 820.0), (411.0, 1090.0)])
    assert there(MADDER, lake)
    assert there(MADDER, [(700.0, 800.0), (702.0, 930.0)])
    # Twelve pixels higher is where the lake's edge should show.
    assert there(IRON_BLUE, [(x, y - 12.0) for x, y in lake])
    # The post leans 9 degrees to the right, so should stand turned back by these.
    middle, half = np.array([405.5, 955.0]), np.array([-5.5, -135.0])
    turn = np.radians(9.0)
    back = half[0] * np.cos(turn) + half[1] * np.sin(turn)
    down = half[1] * np.cos(turn) - half[0] * np.sin(turn)
    turned = np.array([back, down])
    assert there(IRON_BLUE, [middle + turned, middle - turned])
    key = {text.get_text() for text in figure.legends[0].get_texts()}
    assert {
        "upright edge",
        "water's edge",
        "known size",
        "one that is likely a blunder",
    } <= key


def test_marks_are_tagged_with_their_ids_and_explained(
    told: tuple[Fix, FixInputs],
) -> None:
    figure = comparison_figure(*told)
    assert {"A", "B", "C"} <= {text.get_text() for text in figure.axes[0].texts}
    key = {text.get_text() for text in figure.legends[0].get_texts()}
    assert {
        "mark on the plate",
        "where it should show",
        "mark that is likely a blunder",
    } <= key


@pytest.mark.parametrize("verdict", VERDICTS)
def test_a_plate_without_skyline_is_drawn_without_empty_strip(
    scene: ModuleType, tmp_path: Path, verdict: str
) -> None:
    made = scene.with_evidence(*scene.scene(tmp_path, verdict))
    with_one = comparison_figure(*made)
    without = comparison_figure(*scene.without_skyline(*made))
    without.savefig(tmp_path / "drawn.png", dpi=60)
    titles = [axes.get_title(loc="left") for axes in without.axes]
    assert titles == ["", "How far away the hills stand"]
    assert without.get_figheight() < with_one.get_figheight() - 1.0
    key = [text.get_text() for text in without.legends[0].get_texts()]
    assert not [words for words in key if "skyline" in words]
    assert not [text for text in without.texts if "apart" in text.get_text()]


def test_map_has_features_sight_lines_in_lines_and_statements(
    told: tuple[Fix, FixInputs],
) -> None:
    fix, _ = told
    figure = map_figure(*told)
    whole = figure.axes[0]
    squares = _signs(whole, "s", MADDER)
    np.testing.assert_allclose(squares, [(600.0, 900.0), (900.0, 1150.0)], atol=0.01)
    here = (fix.station.east_m, fix.station.north_m)
    for colour, there in ((IRON_BLUE, squares[0]), (STRAW, squares[1])):
        (sight,) = _lines(whole, colour, 0.9)
        np.testing.assert_allclose(sight.get_xydata(), [here, there])
    (line,) = _lines(whole, MADDER, 1.0)
    ends = np.array(line.get_xydata())
    for point in squares:  # both features lie on the line drawn through them
        (along, up), (right, above) = ends[1] - ends[0], np.array(point) - ends[0]
        assert abs(along * above - up * right) / np.hypot(along, up) < 0.01
    # 100 m about the road, and the doubt of the road's own place, 10 m.
    (area,) = _lines(whole, MADDER, 0.9)
    north = np.array(area.get_ydata())
    assert np.ptp(north) == pytest.approx(2 * np.hypot(100.0, 10.0), abs=0.1)
    words = {text.get_text() for text in figure.texts}
    assert {"through two features seen in line", "what a statement means"} <= words


def test_no_sight_lines_from_a_place_that_is_no_answer(
    scene: ModuleType, tmp_path: Path
) -> None:
    made = scene.with_evidence(*scene.scene(tmp_path, "not determined"))
    whole = map_figure(*made).axes[0]
    assert not _lines(whole, IRON_BLUE, 0.9)
    assert len(_signs(whole, "s", MADDER)) == 2


def test_a_feature_beyond_the_map_is_named_where_its_sight_line_leaves(
    told: tuple[Fix, FixInputs],
) -> None:
    fix, inputs = told
    lon, lat = inputs.terrain.frame.to_lonlat(np.array([0.0]), np.array([9000.0]))
    far = replace(inputs.evidence.features[0], geometry=(lon[0], lat[0]))
    features = (far, *inputs.evidence.features[1:])
    inputs = replace(inputs, evidence=replace(inputs.evidence, features=features))
    whole = map_figure(fix, inputs).axes[0]
    (tag,) = [t for t in whole.texts if t.get_text() == "f1"]
    assert isinstance(tag, Annotation)
    assert tag.xy == pytest.approx((0.0, whole.get_ylim()[1]), abs=1.0)


def test_tags_of_crowded_points_do_not_cover_one_another() -> None:
    figure = Figure(figsize=(5, 5), dpi=100)
    axes = figure.add_axes((0.1, 0.1, 0.8, 0.8), xlim=(0, 100), ylim=(100, 0))
    at = [(50.0 + 0.5 * k, 50.0) for k in range(7)]
    write_tags(axes, [Tag(f"P{k}", point, MADDER) for k, point in enumerate(at)])
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    boxes = [
        text.get_bbox_patch().get_window_extent(canvas.get_renderer())
        for text in axes.texts
    ]
    assert len(boxes) == 7
    for k, box in enumerate(boxes):
        assert not [other for other in boxes[k + 1 :] if box.overlaps(other)]
