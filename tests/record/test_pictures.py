"""Check the pictures by what is drawn on them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.image import imread
from shapely.geometry import MultiPolygon

from wherestood.record.comparison import comparison_figure, misfit_px
from wherestood.record.horizon_strip import horizon_figure
from wherestood.record.map import map_figure
from wherestood.record.palette import IRON_BLUE, MADDER, STRAW
from wherestood.record.places import drawn_places, seen_from
from wherestood.record.signs import round_length_m
from wherestood.record.traced import traced_figure

VERDICTS = ["located", "several places", "not determined"]
A_TENTH_OF_A_PIXEL = 0.1


def _words(figure: Figure) -> str:
    everything = [*figure.texts, *(t for axes in figure.axes for t in axes.texts)]
    return "\n".join(text.get_text() for text in everything)


@pytest.mark.parametrize("verdict", VERDICTS)
@pytest.mark.parametrize("draw", [map_figure, comparison_figure])
def test_every_verdict_can_be_drawn(
    scene: ModuleType, tmp_path: Path, verdict: str, draw: object
) -> None:
    assert callable(draw)
    draw(*scene.scene(tmp_path, verdict)).savefig(tmp_path / "drawn.png", dpi=60)
    picture = imread(tmp_path / "drawn.png")
    assert picture.std() > 0.05


def test_map_holds_the_ground_searched_and_every_number(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path, "several places")
    figure = map_figure(fix, inputs)
    west, south, east, north = inputs.area.in_frame(inputs.terrain.frame).bounds
    left, right = figure.axes[0].get_xlim()
    low, high = figure.axes[0].get_ylim()
    assert left < west < east < right
    assert low < south < north < high
    numbers = {text.get_text() for text in figure.axes[0].texts}
    assert {"1", "2"} <= numbers


def test_key_of_a_map_names_other_places_where_there_are_any(
    scene: ModuleType, tmp_path: Path
) -> None:
    for verdict, named in (("several places", True), ("located", False)):
        fix, inputs = scene.scene(tmp_path, verdict)
        fix = fix if named else replace(fix, alternatives=())
        told = [text.get_text() for text in map_figure(fix, inputs).texts]
        assert ("other place, by its number" in told) == named


def test_map_names_the_doubt_and_the_sources(scene: ModuleType, tmp_path: Path) -> None:
    words = _words(map_figure(*scene.scene(tmp_path)))
    for expected in ("invented-hills.tif", "invented datum", "give or take", "in 50"):
        assert expected in words


@pytest.mark.parametrize("verdict", VERDICTS)
def test_likeliest_place_is_enlarged_with_a_scale_whatever_the_verdict(
    scene: ModuleType, tmp_path: Path, verdict: str
) -> None:
    fix, inputs = scene.scene(tmp_path, verdict)
    whole, close = map_figure(fix, inputs).axes
    west, east = close.get_xlim()
    assert west < fix.station.east_m < east
    assert east - west < 0.35 * np.ptp(whole.get_xlim())
    assert any(text.get_text().endswith(" m") for text in close.texts)


def test_rivals_close_by_are_enlarged_and_not_crowded_on_the_whole_map(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path, "several places")
    near = replace(fix.alternatives[0], station=scene.station(-200.0, -240.0))
    fix = replace(fix, alternatives=(near, fix.alternatives[1]))
    whole, close = map_figure(fix, inputs).axes
    numbers = [
        {t.get_text() for t in axes.texts} & set("123") for axes in (whole, close)
    ]
    assert numbers == [{"1", "3"}, {"1", "2"}]


def test_nothing_is_enlarged_where_all_the_ground_is_near_enough(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path)
    assert len(map_figure(replace(fix, near_enough_m=5000.0), inputs).axes) == 1


@pytest.mark.parametrize("verdict", VERDICTS)
def test_map_says_distances_in_metres_and_every_measure_of_doubt(
    scene: ModuleType, tmp_path: Path, verdict: str
) -> None:
    fix, inputs = scene.scene(tmp_path, verdict)
    figure = map_figure(replace(fix, chance=1 / 3000), inputs)
    words = _words(figure).replace("\n", " ")
    assert "near enough" not in words
    for expected in ("to 125 m", "Within 125 m", "about 1 in 3,000", "doubt doubled"):
        assert expected in words


def test_rivals_are_drawn_with_their_own_skyline_and_odds(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path, "several places")
    assert drawn_places(fix) == (1, 2, 3)
    shown = seen_from(fix, 2)
    assert shown.station == fix.alternatives[0].station
    lower = misfit_px(shown, inputs.skyline) - misfit_px(fix, inputs.skyline)
    assert np.nanmedian(lower) == pytest.approx(6.0, abs=A_TENTH_OF_A_PIXEL)
    words = _words(comparison_figure(fix, inputs, 2))
    assert "place 2 of 3: about 1 in 3" in words
    assert "7.4 px apart" in words
    assert "doubled" not in words


def test_faint_rivals_and_unknown_places_have_no_comparison(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path, "not determined")
    assert drawn_places(fix) == (1,)
    bare = replace(fix.alternatives[0], computed_skyline_px=None, probability=0.4)
    fix = replace(fix, alternatives=(bare,))
    assert drawn_places(fix) == (1,)
    for number in (0, 2, 3):
        with pytest.raises(ValueError, match="no computed skyline"):
            comparison_figure(fix, inputs, number)


def test_dots_lie_where_the_probability_is(scene: ModuleType, tmp_path: Path) -> None:
    fix, inputs = scene.scene(tmp_path)
    axes = map_figure(fix, inputs).axes[0]
    dots = next(line for line in axes.lines if len(line.get_xdata()) > 100)
    reach_m = np.hypot(dots.get_xdata(), dots.get_ydata())
    assert np.median(reach_m) == pytest.approx(22.0 * np.sqrt(2 * np.log(2)), rel=0.15)


def test_a_fix_without_regions_or_cells_is_drawn(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path, "not determined")
    bare = replace(
        fix,
        regions={0.9: MultiPolygon()},
        cells=np.empty((0, 4)),
        computed_skyline_px=np.full((5, 2), np.nan),
        horizon_distance_m=np.full(5, np.nan),
        alternatives=(),
    )
    map_figure(bare, inputs).savefig(tmp_path / "map.png", dpi=40)
    comparison_figure(bare, inputs).savefig(tmp_path / "comparison.png", dpi=40)


def test_misfit_is_up_where_the_trace_is_higher(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.scene(tmp_path)
    exact = np.interp(
        inputs.skyline.x_px,
        fix.computed_skyline_px[:, 0],
        fix.computed_skyline_px[:, 1],
    )
    raised = replace(inputs.skyline, y_px=exact - 3.0)
    inside = inputs.skyline.x_px < fix.computed_skyline_px[-1, 0]
    assert misfit_px(fix, raised)[inside] == pytest.approx(3.0, abs=A_TENTH_OF_A_PIXEL)


def test_gaps_are_not_drawn_over(scene: ModuleType, tmp_path: Path) -> None:
    fix, inputs = scene.scene(tmp_path)
    axes = comparison_figure(fix, inputs).axes[0]
    traced = [
        np.asarray(line.get_xdata())
        for line in axes.lines
        if to_hex(line.get_color()).upper() == MADDER and len(line.get_xdata()) > 2
    ]
    assert len(traced) == 3
    drawn = np.concatenate(traced)
    assert not np.any((drawn > 480) & (drawn < 610))


def _straw(figure: Figure) -> dict[float, tuple[float, float]]:
    """Return width [pt] and opacity of the straw lines, by their first x [px]."""
    return {
        float(line.get_xdata()[0]): (line.get_linewidth(), line.get_alpha() or 1.0)
        for line in figure.axes[0].lines
        if to_hex(line.get_color()).upper() == STRAW
    }


def _keys(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.legends[0].get_texts()]


def test_ridge_lines_are_firm_where_explained_and_faint_where_not(
    scene: ModuleType, tmp_path: Path
) -> None:
    figure = comparison_figure(*scene.with_ridges(*scene.scene(tmp_path)))
    drawn = _straw(figure)
    # The third was too short to count and is not drawn.
    assert set(drawn) == {100.0, 700.0}
    firm, faint = drawn[100.0], drawn[700.0]
    assert firm[0] > faint[0]
    assert firm[1] == 1.0 > faint[1]
    assert _keys(figure)[2:] == [
        "ridge lines traced on the plate, faint if unmatched",
        "nearer ridges computed",
    ]


def test_computed_ridges_are_dashes_over_half_the_line(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.with_ridges(*scene.scene(tmp_path))
    drawn = {}
    for with_them in (fix, replace(fix, computed_ridges_px=np.empty((0, 2, 2)))):
        axes = comparison_figure(with_them, inputs).axes[0]
        dashes = [
            piece
            for lines in axes.collections
            if to_hex(lines.get_colors()[0]).upper() == IRON_BLUE
            for piece in lines.get_segments()
            if np.ptp(piece[:, 1]) == 0.0 and piece[0, 1] == 765.0
        ]
        drawn[len(with_them.computed_ridges_px)] = sum(
            float(np.ptp(piece[:, 0])) for piece in dashes
        )
    assert drawn.pop(0) == 0.0
    (length_px,) = drawn.values()
    assert length_px == pytest.approx(0.5 * scene.WIDTH_PX, rel=0.05)


def test_a_comparison_without_ridge_lines_has_no_key_to_them(
    scene: ModuleType, tmp_path: Path
) -> None:
    figure = comparison_figure(*scene.scene(tmp_path))
    assert len(_keys(figure)) == 2
    assert _straw(figure) == {}


def test_another_place_shows_what_its_own_camera_explains(
    scene: ModuleType, tmp_path: Path
) -> None:
    fix, inputs = scene.with_ridges(*scene.scene(tmp_path, "several places"))
    turned = tuple(
        {**item, "log_odds": 2.8 - item["log_odds"]} if item.get("log_odds") else item
        for item in fix.evidence
    )
    rival = replace(fix.alternatives[0], evidence=turned)
    fix = replace(fix, alternatives=(rival, *fix.alternatives[1:]))
    first, second = (_straw(comparison_figure(fix, inputs, k)) for k in (1, 2))
    assert first[100.0] == second[700.0]
    assert first[700.0] == second[100.0]


def test_distances_stand_on_the_comparison(scene: ModuleType, tmp_path: Path) -> None:
    words = _words(comparison_figure(*scene.scene(tmp_path)))
    assert " km" in words


def test_a_trace_alone_can_be_drawn(scene: ModuleType, tmp_path: Path) -> None:
    _, inputs = scene.scene(tmp_path)
    traced_figure(inputs.plate, inputs.skyline).savefig(tmp_path / "t.png", dpi=50)
    assert imread(tmp_path / "t.png").std() > 0.05


def test_a_horizon_with_unknown_bearings_is_drawn(tmp_path: Path) -> None:
    bearing = np.arange(0.0, 360.1, 0.5)
    elevation = 2.0 + np.sin(np.radians(3 * bearing))
    elevation[100:150] = np.nan
    distance = np.full(bearing.size, 5000.0)
    figure = horizon_figure(
        bearing, elevation, distance, title="An invented place", sources="invented"
    )
    figure.savefig(tmp_path / "h.png", dpi=50)
    named = [tick.get_text() for tick in figure.axes[0].get_xticklabels()]
    assert {"N", "E", "S", "W"} <= set(named)


@pytest.mark.parametrize(
    ("longest_m", "expected_m"), [(999.0, 500.0), (1000.0, 1000.0), (73.0, 50.0)]
)
def test_scale_bars_have_round_lengths(longest_m: float, expected_m: float) -> None:
    assert round_length_m(longest_m) == expected_m
