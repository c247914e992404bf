"""Check that pictures of checks and of two answers show what was found."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from matplotlib.figure import Figure

from wherestood.errors import InputError
from wherestood.fix.checked import Agreement, Checks, HeldBack, LeftOut
from wherestood.fix.result import Alternative, Fix, Proposed, ProposedTold
from wherestood.notebook import CHECKS, TWO_ANSWERS, LocatedPlate
from wherestood.record.checks_plot import checks_figure
from wherestood.record.drawn_proposed import proposed_nearby
from wherestood.record.inputs import FixInputs
from wherestood.record.map import map_figure

HELD = HeldBack("C", "f1", 410.0, 990.0, 60.0, 20.0, 20.0, 110.0, 1.4, 0.3)


@pytest.fixture
def checked(scene: ModuleType, tmp_path: Path) -> tuple[Fix, FixInputs]:
    fix, inputs = scene.with_evidence(*scene.scene(tmp_path, "located"))
    place = Alternative(
        fix.station,
        fix.camera,
        0.9,
        fix.computed_skyline_px,
        fix.horizon_distance_m,
        rms_px=2.0,
        evidence=fix.evidence,
    )
    because = (("skyline", -0.1), ("A", -0.2), ("B", -0.1), ("caption", -2.0))
    near = Proposed("the sexton", -27.497, 41.206, bearing_deg=40.0)
    far = Proposed("the catalogue", -20.0, 45.0)
    return (
        replace(
            fix,
            left_out=(
                LeftOut("skyline", ("skyline",), 60.0, 30.0, 52.0, 3.2, -1.0, 30.0, 2.0,
                        16_000.0, 0.9, -27.5, 41.2),
                LeftOut("A", ("A",), 95.0, 30.0, 90.0, 0.4, -1.0, 12.0, 7.0, 2000.0,
                        0.9, -27.5, 41.2),
            ),
            checks=Checks(
                (Agreement("skyline", ("skyline",), 9.0, 120.0, 0.8, 5e4),),
                held_back=(HELD,),
            ),
            proposed=(
                ProposedTold(near, "fits", -0.2, because, 0.3, 1.0, place, 20.0),
                ProposedTold(
                    far, "impossible", -30.0, because[::-1], math.nan, answer=place
                ),
            ),
        ),
        inputs,
    )  # fmt: skip


def words_on(figure: Figure) -> str:
    texts = list(figure.texts)
    for axes in figure.axes:
        texts += [*axes.texts, axes.title, axes._left_title]
        texts += axes.get_yticklabels()
    return "\n".join(text.get_text() for text in texts)


def test_every_check_has_its_row(checked) -> None:
    words = words_on(checks_figure(*checked))
    for part in ("skyline", "60 m", "95 m", "1.6 ha", "Marks held back", "110 px"):
        assert part in words


def test_panels_of_checks_that_were_not_made_are_left_out(checked) -> None:
    fix, inputs = checked
    fewer = replace(fix, checks=Checks(), left_out=fix.left_out[:1])
    assert "Marks held back" not in words_on(checks_figure(fewer, inputs))
    with pytest.raises(InputError, match="one item alone"):
        LocatedPlate(replace(fewer, left_out=()), inputs).checks()


def test_two_answers_have_a_picture_each_and_odds_between(checked) -> None:
    located = LocatedPlate(*checked)
    two = located.compare("the sexton", 2)
    words = words_on(two.picture().figure)
    for part in ("the sexton: fits", "the catalogue: impossible", "mark A", "favours"):
        assert part in words
    assert "the sexton" in two.words()
    assert dict(two.favours)["caption"] == pytest.approx(0.0)
    with pytest.raises(InputError, match="no proposed position 'nobody'"):
        located.compare("nobody")


def test_the_answer_and_a_proposed_position_show_both_horizons_and_how_far_off(
    checked,
) -> None:
    """By hand: lines laid 3 and 12 px below the traced one are that far off."""
    fix, inputs = checked
    line = inputs.skyline
    horizons = [np.column_stack((line.x_px, line.y_px + by_px)) for by_px in (3, 12)]
    far_m = np.full(len(line.x_px), 4000.0)
    at = replace(fix, computed_skyline_px=horizons[0], horizon_distance_m=far_m)
    told = fix.proposed[0]
    place = replace(
        told.answer, computed_skyline_px=horizons[1], horizon_distance_m=far_m
    )
    shown = replace(at, proposed=(replace(told, answer=place), *fix.proposed[1:]))
    figure = LocatedPlate(shown, inputs).against("the sexton").figure
    key = [text.get_text() for text in figure.legends[0].get_texts()]
    assert key == [
        "skyline traced", "horizon from the answer, 3 px off (typical)",
        "horizon from near the position of the sexton, 12 px off (typical)",
    ]  # fmt: skip
    (plate, strip) = figure.axes
    drawn = [one.get_ydata() for one in plate.lines]
    for points in horizons:
        assert any(np.array_equal(points[:, 1], y, equal_nan=True) for y in drawn)
    below_px = {round(float(np.mean(one.get_ydata())), 6) for one in strip.lines}
    assert below_px == {0.0, -3.0, -12.0}
    nowhere = replace(shown, proposed=(replace(told, answer=None),))
    with pytest.raises(InputError, match="no known ground"):
        LocatedPlate(nowhere, inputs).against()


def test_pictures_are_saved_and_go_with_an_older_answer(checked, tmp_path) -> None:
    fix, inputs = checked
    out = tmp_path / "out"
    names = {path.name for path in LocatedPlate(fix, inputs).save(out)}
    assert {CHECKS, TWO_ANSWERS, "against-1.png", "against-2.png"} <= names
    alone = replace(fix, left_out=(), checks=Checks(), proposed=())
    LocatedPlate(alone, inputs).save(out)
    assert not (out / CHECKS).exists()
    assert not (out / TWO_ANSWERS).exists()
    assert not list(out.glob("against-*"))


def test_the_map_shows_what_is_proposed_near_by_alone(checked) -> None:
    fix, inputs = checked
    frame = inputs.terrain.frame
    ground = inputs.area.in_frame(frame)
    assert len(proposed_nearby(fix, frame, ground)) == 1
    words = words_on(map_figure(fix, inputs))
    assert "the sexton" in words
    assert "the catalogue" not in words
    assert "position that somebody proposed" in words
