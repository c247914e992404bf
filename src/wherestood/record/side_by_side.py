"""Draw two answers on the same evidence, side by side."""

from __future__ import annotations

import math
from dataclasses import replace

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from wherestood.fix.checked import Checks
from wherestood.fix.result import Fix, ProposedTold
from wherestood.record.checks_words import times_in_words
from wherestood.record.comparison import draw_plate
from wherestood.record.doubt import compass_words, coordinates
from wherestood.record.drawn_marks import mark_key
from wherestood.record.inputs import FixInputs
from wherestood.record.legend import title
from wherestood.record.lines import lay_mount
from wherestood.record.palette import GRAPHITE, IRON_BLUE, MADDER, PAPER, PENCIL
from wherestood.record.proposed_words import (
    NEITHER,
    TWO_ANSWERS,
    favours,
    off_words,
    row_name,
)
from wherestood.record.sureness import asked

__all__ = ["can_compare", "side_by_side_figure"]

DPI = 150
WIDTH_IN, HEAD_IN, FOOT_IN = 11.0, 1.0, 0.5
PLATE_IN = 4.95  # width of either picture
MOST_TALL_IN = 5.5
GAP_IN, ROW_IN = 1.05, 0.34
LONGEST_PX = 1100
#: Bars are no longer than this many units of log odds.
MOST_LOG_ODDS = 10.0
MOST_ROWS = 16


def can_compare(one: ProposedTold, other: ProposedTold) -> bool:
    """Say whether there is a camera of either to draw."""
    return one.answer is not None and other.answer is not None


def side_by_side_figure(
    fix: Fix, inputs: FixInputs, one: ProposedTold, other: ProposedTold
) -> Figure:
    """Return the plate through the cameras of two answers, and each item's odds.

    Raises
    ------
    ValueError
        If there is no known ground at one of them.
    """
    if not can_compare(one, other):
        raise ValueError("there is no known ground at one of the two positions")
    skyline = inputs.skyline
    tall_in = min(PLATE_IN * skyline.height_px / skyline.width_px, MOST_TALL_IN)
    wide_in = tall_in * skyline.width_px / skyline.height_px
    rows = favours(one, other)[:MOST_ROWS]
    base_in = FOOT_IN + GAP_IN + ROW_IN * len(rows)
    height_in = HEAD_IN + 0.55 + tall_in + base_in
    figure = Figure(figsize=(WIDTH_IN, height_in), dpi=DPI, facecolor=PAPER)
    title(figure, TWO_ANSWERS, fix, inputs)
    picture, _ = inputs.plate.reduced(LONGEST_PX)
    for column, told in enumerate((one, other)):
        left_in = 0.45 + column * (WIDTH_IN - 0.35) / 2
        axes = figure.add_axes(
            (
                left_in / WIDTH_IN,
                base_in / height_in,
                wide_in / WIDTH_IN,
                tall_in / height_in,
            )
        )
        lay_mount(figure, axes)
        draw_plate(axes, picture, _seen_from(fix, told), inputs)
        figure.text(
            left_in / WIDTH_IN,
            (base_in + tall_in + 0.22) / height_in,
            f"{told.proposed.name}: {told.verdict}",
            fontsize=10.5,
            color=GRAPHITE,
        )
        figure.text(
            left_in / WIDTH_IN,
            (base_in - 0.32) / height_in,
            _under(fix, told),
            fontsize=7.5,
            color=PENCIL,
        )
    if rows:
        bars = figure.add_axes(
            (0.27, FOOT_IN / height_in, 0.46, ROW_IN * len(rows) / height_in)
        )
        _draw_odds(bars, rows, one, other)
    _key(figure, _seen_from(fix, one), inputs)
    return figure


def _seen_from(fix: Fix, told: ProposedTold) -> Fix:
    """Return a fix with the best camera near a position put first, for drawing."""
    place = told.answer
    assert place is not None
    assert place.computed_skyline_px is not None
    assert place.horizon_distance_m is not None
    return replace(
        fix,
        station=place.station,
        camera=place.camera,
        computed_skyline_px=place.computed_skyline_px,
        horizon_distance_m=place.horizon_distance_m,
        rms_px=place.rms_px,
        evidence=place.evidence,
        computed_ridges_px=place.computed_ridges_px,
        # What was foretold for marks held back belongs to the answer itself.
        checks=Checks(),
    )


def _under(fix: Fix, told: ProposedTold) -> str:
    """Say where it is, and which camera is drawn."""
    place = told.answer
    assert place is not None
    station = place.station
    at = coordinates(station.lon_deg, station.lat_deg, fix.near_enough_m / 10.0)
    looks = compass_words(place.camera.sight_bearing_deg)
    return f"As seen from {at}, within {asked(fix)} of it, looking {looks}."


def _draw_odds(
    axes: Axes,
    rows: list[tuple[str, float]],
    one: ProposedTold,
    other: ProposedTold,
) -> None:
    """Draw which of the two each item favours, and by what odds."""
    axes.set_facecolor("none")
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlim(-MOST_LOG_ODDS, MOST_LOG_ODDS)
    axes.set_xticks([])
    for side in axes.spines.values():
        side.set_visible(False)
    axes.axvline(0.0, color=PENCIL, linewidth=0.8)
    for row, (name, log_odds) in enumerate(rows):
        length = math.copysign(min(abs(log_odds), MOST_LOG_ODDS), log_odds)
        # The first stands on the left, and so do its bars.
        axes.barh(row, -length, height=0.5, color=IRON_BLUE, linewidth=0)
        neither = abs(log_odds) < NEITHER
        axes.annotate(
            "neither" if neither else times_in_words(abs(log_odds)),
            (0.0, row),
            (6 if log_odds > 0.0 else -6, 0),
            textcoords="offset points",
            ha="left" if log_odds > 0.0 else "right",
            va="center",
            fontsize=7.5,
            color=GRAPHITE,
        )
        for at, told, align in ((-1.0, one, "right"), (1.0, other, "left")):
            axes.annotate(
                off_words(name, told),
                (at * MOST_LOG_ODDS, row),
                (at * 8, 0),
                textcoords="offset points",
                ha=align,
                va="center",
                fontsize=7.5,
                color=PENCIL,
                annotation_clip=False,
            )
        axes.annotate(
            row_name(name, one),
            (-MOST_LOG_ODDS, row),
            (-88, 0),
            textcoords="offset points",
            ha="right",
            va="center",
            fontsize=8,
            color=GRAPHITE,
            annotation_clip=False,
        )
    axes.set_yticks([])
    axes.set_title(
        f"\N{LEFTWARDS ARROW} favours {one.proposed.name}        "
        f"favours {other.proposed.name} \N{RIGHTWARDS ARROW}",
        fontsize=8.5,
        color=GRAPHITE,
        pad=5,
    )


def _key(figure: Figure, fix: Fix, inputs: FixInputs) -> None:
    """Write the key of both pictures."""
    rows = [
        Line2D(
            [],
            [],
            color=IRON_BLUE,
            linewidth=1.8,
            linestyle=(0, (4, 2.4)),
            label="horizon computed from there",
        ),
        *mark_key(fix, inputs),
    ]
    if inputs.has_skyline:
        rows.insert(0, Line2D([], [], color=MADDER, linewidth=1.8, label="skyline"))
    figure.legend(
        handles=rows,
        loc="upper right",
        bbox_to_anchor=(0.985, 1 - 0.1 / figure.get_figheight()),
        ncols=2,
        frameon=False,
        fontsize=7.5,
        labelspacing=0.35,
        labelcolor=GRAPHITE,
    )
