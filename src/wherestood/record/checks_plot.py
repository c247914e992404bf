"""Draw what the checks of a fix found."""

from __future__ import annotations

import math
import textwrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from wherestood.fix.checked import Agreement, HeldBack, LeftOut
from wherestood.fix.result import Fix
from wherestood.record.checks_words import (
    AGREE,
    DISAGREE,
    DISAGREES_SDS,
    indeterminate_lines,
)
from wherestood.record.doubt import area_in_words, distance_in_words
from wherestood.record.inputs import FixInputs
from wherestood.record.legend import LINE_CHARACTERS, LINE_IN, title
from wherestood.record.palette import (
    GRAPHITE,
    IRON_BLUE,
    MADDER,
    PAPER,
    PENCIL,
    STRAW,
)
from wherestood.record.sureness import chance_sentence, doubled_sentence

__all__ = ["checks_figure", "has_checks"]

DPI = 150
WIDTH_IN, HEAD_IN, FOOT_IN = 11.0, 1.1, 0.35
ROW_IN, HEADING_IN = 0.3, 0.75
MOST_ROWS = 24
LONGEST_NAME = 26
RATIO_TICKS = (0.01, 0.05, 0.2, 0.5, 1, 2, 5, 20, 100, 500)
#: Log odds are drawn no farther than this: beyond a million it tells no more.
MOST_LOG_ODDS = 14.0


def has_checks(fix: Fix) -> bool:
    """Say whether there is anything to draw."""
    return bool(fix.left_out or fix.checks.agreement or fix.checks.held_back)


def checks_figure(fix: Fix, inputs: FixInputs) -> Figure:
    """Return the picture of the checks: a panel for each kind that was made.

    How far the answer moves without each group, against the doubt of the difference,
    and what becomes of the ground; whether kinds of evidence agree; how far marks held
    back lie from where they were foretold.
    """
    moved = sorted(fix.left_out, key=lambda one: -one.moved_m)[:MOST_ROWS]
    kinds, held = fix.checks.agreement, fix.checks.held_back
    counts = [len(rows) for rows in (moved, kinds, held) if rows]
    foot = _foot(fix, inputs)
    height_in = HEAD_IN + FOOT_IN + sum(HEADING_IN + ROW_IN * n for n in counts)
    height_in = max(height_in, 3.0) + LINE_IN * len(foot)
    figure = Figure(figsize=(WIDTH_IN, height_in), dpi=DPI, facecolor=PAPER)
    title(figure, "How the answer stands up", fix, inputs)
    top_in = height_in - HEAD_IN

    def panel(left: float, width: float, rows: int) -> Axes:
        tall_in = ROW_IN * rows
        axes = figure.add_axes(
            (left, (top_in - tall_in) / height_in, width, tall_in / height_in)
        )
        _dress(axes, rows)
        return axes

    if moved:
        _draw_moved(panel(0.19, 0.42, len(moved)), moved)
        _draw_ground(panel(0.68, 0.28, len(moved)), moved)
        top_in -= HEADING_IN + ROW_IN * len(moved)
    if kinds:
        _draw_kinds(panel(0.19, 0.42, len(kinds)), kinds)
        top_in -= HEADING_IN + ROW_IN * len(kinds)
    if held:
        _draw_held(panel(0.19, 0.42, len(held)), held)
    for up, words in enumerate(reversed(foot), start=1):
        figure.text(
            0.055, up * LINE_IN / height_in, words, fontsize=7.5, color=GRAPHITE
        )
    return figure


def _foot(fix: Fix, inputs: FixInputs) -> list[str]:
    """Return what else was tried: other hills, doubled doubt, ways hardly fixed."""
    said = (
        chance_sentence(fix),
        doubled_sentence(fix),
        " ".join(indeterminate_lines(fix, inputs)),
    )
    return [
        line
        for words in said
        if words
        for line in textwrap.wrap(words, LINE_CHARACTERS)
    ]


def _dress(axes: Axes, rows: int) -> None:
    axes.set_facecolor("none")
    axes.set_ylim(rows - 0.4, -0.6)
    axes.tick_params(colors=PENCIL, labelsize=7.5, length=3)
    axes.set_yticks([])
    for name, side in axes.spines.items():
        side.set_visible(name == "bottom")
        side.set(color=PENCIL, linewidth=0.7)


def _names(axes: Axes, names: list[str]) -> None:
    axes.set_yticks(range(len(names)))
    axes.set_yticklabels([_short(name) for name in names], color=GRAPHITE, fontsize=8)
    axes.tick_params(axis="y", length=0, pad=6)


def _short(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"


def _heading(axes: Axes, words: str) -> None:
    axes.set_title(words, loc="left", fontsize=8.5, color=GRAPHITE, pad=6)


def _draw_moved(axes: Axes, moved: list[LeftOut]) -> None:
    """Draw how far it moves, and the doubt of the difference behind it."""
    for row, one in enumerate(moved):
        if math.isfinite(one.expected_m):
            for times, alpha in ((2.0, 0.13), (1.0, 0.2)):
                axes.barh(
                    row,
                    times * one.expected_m,
                    height=0.62,
                    color=PENCIL,
                    alpha=alpha,
                    linewidth=0,
                )
        bad = one.moved_sds > DISAGREES_SDS
        axes.plot(
            [one.moved_m],
            [row],
            marker="X" if bad else "o",
            markersize=8.0 if bad else 6.0,
            color=STRAW if bad else IRON_BLUE,
            linestyle="none",
        )
        axes.annotate(
            distance_in_words(one.moved_m) if one.moved_m >= 1.0 else "under 1 m",
            (one.moved_m, row),
            (8, 0),
            textcoords="offset points",
            va="center",
            fontsize=7.5,
            color=GRAPHITE,
        )
    reach = max(max(one.moved_m, 2.0 * np.nan_to_num(one.expected_m)) for one in moved)
    axes.set_xlim(0.0, 1.18 * max(reach, 1.0))
    axes.set_xlabel("metres", fontsize=7.5, color=PENCIL, labelpad=2)
    _names(axes, [one.name for one in moved])
    _heading(axes, "Without it the answer moves (band: as it may, once and twice)")


def _draw_ground(axes: Axes, moved: list[LeftOut]) -> None:
    """Draw what becomes of the ground that holds the camera 9 times in 10."""
    ratios = np.array([one.area_ratio for one in moved])
    axes.axvline(1.0, color=PENCIL, linewidth=0.8)
    for row, (ratio, one) in enumerate(zip(ratios, moved, strict=True)):
        axes.plot([1.0, ratio], [row, row], color=IRON_BLUE, linewidth=1.4)
        axes.plot([ratio], [row], marker="o", markersize=5.0, color=IRON_BLUE)
        wider = ratio >= 1.0
        axes.annotate(
            area_in_words(one.area_m2) if math.isfinite(one.area_m2) else "",
            (ratio, row),
            (7 if wider else -7, 0),
            textcoords="offset points",
            va="center",
            ha="left" if wider else "right",
            fontsize=7.5,
            color=GRAPHITE,
        )
    axes.set_xscale("log")
    low, high = min(ratios.min(), 1.0), max(ratios.max(), 1.0)
    axes.set_xlim(low / 2.2, high * 2.2)
    ticks = [
        t for t in (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100) if low / 2 < t < 2 * high
    ]
    axes.set_xticks(ticks)
    axes.set_xticklabels([f"{tick:g}" for tick in ticks])
    axes.minorticks_off()
    axes.set_xlabel("times as large", fontsize=7.5, color=PENCIL, labelpad=2)
    _heading(axes, "and the 9-in-10 ground becomes")


def _draw_kinds(axes: Axes, kinds: tuple[Agreement, ...]) -> None:
    """Draw the odds that each kind speaks of the place of all others."""
    axes.axvspan(DISAGREE, AGREE, color=PENCIL, alpha=0.15, linewidth=0)
    axes.axvline(0.0, color=PENCIL, linewidth=0.8)
    for row, one in enumerate(kinds):
        odds = float(np.clip(one.log_odds, -MOST_LOG_ODDS, MOST_LOG_ODDS))
        bad = one.log_odds < DISAGREE or one.apart_sds > DISAGREES_SDS
        axes.plot(
            [odds],
            [row],
            marker="X" if bad else "o",
            markersize=8.0 if bad else 6.0,
            color=STRAW if bad else IRON_BLUE,
            linestyle="none",
        )
    axes.set_xlim(-MOST_LOG_ODDS - 1.0, MOST_LOG_ODDS + 1.0)
    ticks = [-13.8, -6.9, 0.0, 6.9, 13.8]
    axes.set_xticks(ticks)
    axes.set_xticklabels(
        ["two, 1,000,000:1", "1000:1", "even", "1000:1", "one, 1,000,000:1"]
    )
    _names(axes, [one.name for one in kinds])
    _heading(axes, "Each kind and the rest: of one place, or of two (band: no telling)")


def _draw_held(axes: Axes, held: tuple[HeldBack, ...]) -> None:
    """Draw how far marks held back lie from where they were foretold."""
    for edge in (3.0, 2.0, 1.0):
        axes.axvspan(0.0, edge, color=PENCIL, alpha=0.1, linewidth=0)
    reach = max(4.0, *(one.off_sds for one in held))
    for row, one in enumerate(held):
        bad = one.off_sds > DISAGREES_SDS
        axes.plot(
            [one.off_sds],
            [row],
            marker="X" if bad else "D",
            markersize=8.0 if bad else 6.0,
            markerfacecolor="none" if not bad else STRAW,
            markeredgecolor=STRAW if bad else MADDER,
            markeredgewidth=1.5,
            linestyle="none",
        )
        axes.annotate(
            f"{one.off_px:.0f} px",
            (one.off_sds, row),
            (8, 0),
            textcoords="offset points",
            va="center",
            fontsize=7.5,
            color=GRAPHITE,
        )
    axes.set_xlim(0.0, 1.12 * reach)
    axes.set_xlabel("standard errors", fontsize=7.5, color=PENCIL, labelpad=2)
    _names(axes, [one.id for one in held])
    _heading(axes, "Marks held back: how far from where they were foretold")
