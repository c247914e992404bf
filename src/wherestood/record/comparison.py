"""Draw a plate against what the ground says it should show."""

from __future__ import annotations

import math
import textwrap
from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from wherestood.fix.result import Fix
from wherestood.plate.skyline import Skyline
from wherestood.record.doubt import distance_in_words, odds_in_words
from wherestood.record.drawn_items import draw_items, item_key
from wherestood.record.drawn_marks import draw_marks, mark_key
from wherestood.record.drawn_ridges import draw_ridges, ridge_key
from wherestood.record.fix_json import skyline_gaps
from wherestood.record.inputs import FixInputs
from wherestood.record.legend import (
    LINE_CHARACTERS,
    LINE_IN,
    elevation_line,
    title,
)
from wherestood.record.lines import (
    draw_gap_ends,
    draw_picture,
    draw_traced,
    lay_mount,
    pieces,
)
from wherestood.record.palette import (
    GRAPHITE,
    IRON_BLUE,
    MADDER,
    MOUNT,
    PAPER,
    PENCIL,
)
from wherestood.record.places import place_words, seen_from
from wherestood.record.sighting import bearings_deg
from wherestood.record.signs import casing, faded
from wherestood.record.sureness import chance_sentence, doubled_sentence

__all__ = ["comparison_figure", "draw_plate", "dress_strip", "misfit_px"]

DPI = 150
WIDTH_IN = 11.0
LONGEST_PX = 1600
DASH_PX, SPACE_PX = 15.0, 9.0  # on a picture LONGEST_PX wide
CARDINALS = {0: "N", 90: "E", 180: "S", 270: "W"}
DISTANCE_TICKS_KM = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200)
DEPTH_JUMP = math.log(1.35)
SHORTEST_LABELLED = 0.05  # of the width
MOST_LABELS = 9


def comparison_figure(fix: Fix, inputs: FixInputs, number: int = 1) -> Figure:
    """Return the plate with the computed skyline over the traced one.

    Below it, how far apart the two are and how far away the hills stand, along
    the same horizontal scale, with true bearings at the foot.

    Parameters
    ----------
    fix : Fix
        The answer.
    inputs : FixInputs
        What it was made from.
    number : int
        Which place's camera to draw: 1 the likeliest, from 2 on the others.

    Raises
    ------
    ValueError
        If there is no such place, or its skyline was not computed.
    """
    shown = seen_from(fix, number)
    skyline = inputs.skyline
    picture, _ = inputs.plate.reduced(LONGEST_PX)
    across_in = 0.93 * WIDTH_IN - 0.35
    plate_in = min(across_in * skyline.height_px / skyline.width_px, 9.0)
    foot = _foot(shown, inputs, number)
    foot_in = LINE_IN * len(foot)
    # Without a skyline there is no misfit to draw below the plate.
    base_in = 2.5 if inputs.has_skyline else 1.34
    height_in = plate_in + base_in + 0.95 + foot_in
    figure = Figure(figsize=(WIDTH_IN, height_in), dpi=DPI, facecolor=PAPER)
    more = [*ridge_key(shown, inputs), *mark_key(shown, inputs)]
    named = {row.get_label() for row in more}
    more += [row for row in item_key(shown, inputs) if row.get_label() not in named]
    _head(figure, fix, inputs, number, more)
    width_in = plate_in * skyline.width_px / skyline.height_px
    left = (0.055 * WIDTH_IN + (across_in - width_in) / 2) / WIDTH_IN
    wide = width_in / WIDTH_IN

    def place(bottom_in: float, tall_in: float) -> Axes:
        bottom = (bottom_in + foot_in) / height_in
        return figure.add_axes((left, bottom, wide, tall_in / height_in))

    above = place(base_in, plate_in)
    lay_mount(figure, above)
    draw_plate(above, picture, shown, inputs)
    if inputs.has_skyline:
        _draw_misfit(place(1.24, 0.90), shown, skyline)
    _draw_distance(place(0.5, 0.46), shown, skyline)
    _bearing_ticks(figure.axes[-1], shown, inputs)
    for down, (words, colour) in enumerate(foot, start=1):
        at = (0.12 + foot_in - LINE_IN * down) / height_in
        figure.text(0.055, at, words, fontsize=7.5, color=colour)
    return figure


def misfit_px(fix: Fix, skyline: Skyline) -> NDArray[np.float64]:
    """Return how far the traced line lies above the computed one, at each sample.

    Returns
    -------
    (n,) float64 array
        Vertical distance [px], positive where the traced line is higher; NaN
        where the computed line does not reach.
    """
    x_px, y_px = fix.computed_skyline_px[:, 0], fix.computed_skyline_px[:, 1]
    known = np.isfinite(x_px) & np.isfinite(y_px)
    if known.sum() < 2:
        return np.full(len(skyline.x_px), np.nan)
    order = np.argsort(x_px[known])
    at_px = np.interp(
        skyline.x_px,
        x_px[known][order],
        y_px[known][order],
        left=np.nan,
        right=np.nan,
    )
    apart: NDArray[np.float64] = at_px - skyline.y_px
    return apart


def _foot(shown: Fix, inputs: FixInputs, number: int) -> list[tuple[str, str]]:
    """Say how well the two lines agree and what that is worth, as coloured lines."""
    agree = ""
    if inputs.has_skyline:
        agree = "A good match proves little by itself: hills repeat."
    if inputs.has_skyline and math.isfinite(shown.rms_px):
        agree = f"The two lines are {shown.rms_px:.2g} px apart (typical). {agree}"
    tried = f"{chance_sentence(shown)} {doubled_sentence(shown)}" if number == 1 else ""
    rows = [
        (agree, GRAPHITE),
        (tried, GRAPHITE),
        (elevation_line(inputs.terrain), PENCIL),
    ]
    return [
        (words, colour)
        for paragraph, colour in rows
        for words in textwrap.wrap(paragraph.strip(), LINE_CHARACTERS)
    ]


def _head(
    figure: Figure, fix: Fix, inputs: FixInputs, number: int, more: list[Line2D]
) -> None:
    place = place_words(fix, number)
    if number > 1:
        odds = odds_in_words(fix.alternatives[number - 2].probability)
        place = f"{place}: {odds}"
    title(figure, "Against the ground", fix, inputs, place)
    height_in = figure.get_figheight()
    traced = "traced on the plate"
    if inputs.skyline.source != "traced":
        traced = "drawn on the plate"
    skyline = Line2D([], [], color=MADDER, linewidth=1.8, label=f"skyline {traced}")
    figure.legend(
        handles=[
            *([skyline] if inputs.has_skyline else []),
            Line2D(
                [],
                [],
                color=IRON_BLUE,
                linewidth=1.8,
                linestyle=(0, (4, 2.4)),
                label="horizon computed from the ground, paler with distance",
            ),
            *more,
        ],
        loc="upper right",
        bbox_to_anchor=(0.985, 1 - (0.08 if more else 0.18) / height_in),
        ncols=2,
        frameon=False,
        fontsize=7.5 if len(more) > 4 else 8.5,  # four rows above the mount
        labelspacing=0.3 if len(more) > 4 else 0.5,
        labelcolor=GRAPHITE,
    )


def draw_plate(
    axes: Axes, picture: NDArray[np.float32], fix: Fix, inputs: FixInputs
) -> None:
    """Draw the plate with what was traced and marked, and what a camera would show."""
    skyline = inputs.skyline
    draw_picture(axes, picture, skyline)
    draw_ridges(axes, fix, inputs)
    draw_traced(axes, skyline)
    _draw_computed(axes, fix, skyline)
    draw_gap_ends(axes, skyline)
    _label_distances(axes, fix, skyline)
    draw_items(axes, fix, inputs)
    draw_marks(axes, fix, inputs)


def _draw_computed(axes: Axes, fix: Fix, skyline: Skyline) -> None:
    """Draw the computed line as dashes, paler the farther the hills."""
    scale = skyline.width_px / LONGEST_PX
    for points, distance_m in _runs(fix, skyline):
        step_px = np.hypot(*np.diff(points, axis=0).T)
        along_px = np.concatenate(([0.0], np.cumsum(step_px)))
        starts = np.arange(0.0, along_px[-1], (DASH_PX + SPACE_PX) * scale)
        dashes, at_m = [], []
        for start_px in starts:
            ends = np.linspace(start_px, start_px + DASH_PX * scale, 6)
            ends = ends[ends <= along_px[-1]]
            if len(ends) < 2:
                continue
            dashes.append(
                np.column_stack(
                    [np.interp(ends, along_px, points[:, i]) for i in (0, 1)]
                )
            )
            at_m.append(float(np.interp(start_px, along_px, distance_m)))
        if not dashes:
            continue
        tones = faded(IRON_BLUE, 0.45 + 0.55 * _nearness(np.array(at_m), fix))
        axes.add_collection(
            LineCollection(dashes, colors=PAPER, linewidths=3.0, zorder=5, alpha=0.55)
        )
        axes.add_collection(
            LineCollection(dashes, colors=tones, linewidths=1.7, zorder=5)
        )


def _runs(
    fix: Fix, skyline: Skyline
) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Return the stretches of the computed line inside the scan, left to right."""
    points, distance_m = fix.computed_skyline_px, fix.horizon_distance_m
    inside = np.isfinite(points).all(axis=1) & np.isfinite(distance_m)
    with np.errstate(invalid="ignore"):
        inside &= (points[:, 0] >= 0) & (points[:, 0] <= skyline.width_px)
        inside &= (points[:, 1] >= 0) & (points[:, 1] <= skyline.height_px)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], inside.astype(int), [0]))))
    runs = []
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        if stop - start < 2:
            continue
        order = np.argsort(points[start:stop, 0])
        runs.append((points[start:stop][order], distance_m[start:stop][order]))
    return sorted(runs, key=lambda run: float(run[0][0, 0]))


def _nearness(distance_m: NDArray[np.float64], fix: Fix) -> NDArray[np.float64]:
    """Return 1 for the nearest hills of the picture and 0 for the farthest."""
    known = fix.horizon_distance_m[np.isfinite(fix.horizon_distance_m)]
    near, far = np.log(np.percentile(known, [2, 98]))
    share = (far - np.log(distance_m)) / max(far - near, 0.5)
    nearness: NDArray[np.float64] = np.clip(share, 0.0, 1.0)
    return nearness


def _label_distances(axes: Axes, fix: Fix, skyline: Skyline) -> None:
    """Write the distance of each stretch of hills above it."""
    stretches = []
    for points, distance_m in _runs(fix, skyline):
        jumps = np.flatnonzero(np.abs(np.diff(np.log(distance_m))) > DEPTH_JUMP) + 1
        edges = [0, *jumps.tolist(), len(points)]
        for a, b in pairwise(edges):
            wide = (points[b - 1, 0] - points[a, 0]) / skyline.width_px
            if wide >= SHORTEST_LABELLED:
                stretches.append((wide, points[a:b], distance_m[a:b]))
    stretches.sort(key=lambda stretch: -stretch[0])
    for _, points, distance_m in stretches[:MOST_LABELS]:
        middle = len(points) // 2
        axes.annotate(
            distance_in_words(float(np.median(distance_m))),
            (points[middle, 0], points[middle, 1]),
            (0, 11),
            textcoords="offset points",
            ha="center",
            va="bottom",
            fontsize=8,
            color=IRON_BLUE,
            zorder=7,
            path_effects=casing(3.0),
            annotation_clip=True,
        )


def dress_strip(axes: Axes, skyline: Skyline) -> None:
    """Dress a strip that shares the plate's horizontal scale; hatch the gaps."""
    axes.set_facecolor("none")
    axes.set_xlim(0, skyline.width_px)
    axes.tick_params(colors=PENCIL, labelsize=7.5, length=3)
    axes.set_xticks([])
    for name, side in axes.spines.items():
        side.set_visible(name == "left")
        side.set(color=PENCIL, linewidth=0.7)
    # A plate without a skyline is not all gap.
    for start_px, end_px in skyline_gaps(skyline) if len(skyline.x_px) else ():
        axes.axvspan(
            start_px, end_px, facecolor="none", edgecolor=MOUNT, hatch="////", lw=0
        )


def _draw_misfit(axes: Axes, fix: Fix, skyline: Skyline) -> None:
    """Draw how far the two lines are apart, up where the traced one is higher."""
    dress_strip(axes, skyline)
    apart_px = misfit_px(fix, skyline)
    known = apart_px[np.isfinite(apart_px)]
    reach_px = 4.0
    if known.size:
        reach_px = max(reach_px, 1.25 * float(np.percentile(np.abs(known), 99)))
    axes.set_ylim(-reach_px, reach_px)
    axes.axhline(0.0, color=IRON_BLUE, linewidth=1.1, linestyle=(0, (4, 2.4)))
    for piece in pieces(skyline):
        x_px = skyline.x_px[piece]
        sd_px = np.where(np.isfinite(skyline.sd_px[piece]), skyline.sd_px[piece], 0.0)
        axes.fill_between(
            x_px,
            apart_px[piece] - sd_px,
            apart_px[piece] + sd_px,
            color=MADDER,
            alpha=0.16,
            linewidth=0,
        )
        axes.plot(x_px, apart_px[piece], color=MADDER, linewidth=1.1)
    axes.set_ylabel("px", fontsize=7.5, color=PENCIL)
    axes.set_title(
        "Traced above (+) or below (\N{MINUS SIGN}) the computed horizon",
        loc="left",
        fontsize=8,
        color=GRAPHITE,
        pad=3,
    )


def _draw_distance(axes: Axes, fix: Fix, skyline: Skyline) -> None:
    """Draw how far away the hills of the skyline stand, darker where near."""
    dress_strip(axes, skyline)
    runs = _runs(fix, skyline)
    axes.set_yscale("log")
    if runs:
        all_km = np.concatenate([d for _, d in runs]) / 1000.0
        axes.set_ylim(float(all_km.min()) / 1.6, float(all_km.max()) * 1.6)
        low, high = axes.get_ylim()
        ticks = [tick for tick in DISTANCE_TICKS_KM if low <= tick <= high]
        ticks = ticks[:: 1 + len(ticks) // 4]  # the strip is low
        axes.set_yticks(ticks)
        axes.set_yticklabels([f"{tick:g}" for tick in ticks])
    axes.minorticks_off()
    for points, distance_m in runs:
        tones = faded(GRAPHITE, 0.3 + 0.7 * _nearness(distance_m, fix))
        axes.scatter(
            points[:, 0], distance_m / 1000.0, s=3.0, c=tones, linewidths=0, zorder=3
        )
    axes.set_ylabel("km", fontsize=7.5, color=PENCIL)
    axes.set_title(
        "How far away the hills stand", loc="left", fontsize=8, color=GRAPHITE, pad=3
    )


def _bearing_ticks(axes: Axes, fix: Fix, inputs: FixInputs) -> None:
    """Write true bearings at the foot, every five degrees, cardinals by name."""
    skyline = inputs.skyline
    points = fix.computed_skyline_px
    known = points[np.isfinite(points).all(axis=1)]
    level_px = float(np.median(known[:, 1])) if len(known) else skyline.height_px / 2
    x_px = np.linspace(0.0, float(skyline.width_px), 201)
    seen = inputs.on_plate(np.column_stack((x_px, np.full(201, level_px))))
    bearing_deg = bearings_deg(fix.camera, seen[:, 0], seen[:, 1], *inputs.plate_px)
    order = np.argsort(bearing_deg)
    low, high = bearing_deg[order[0]], bearing_deg[order[-1]]
    step_deg = 5 if high - low < 90 else 10
    wanted = np.arange(math.ceil(low / step_deg), math.floor(high / step_deg) + 1)
    wanted_deg = wanted * step_deg
    axes.spines["bottom"].set_visible(True)
    axes.set_xticks(np.interp(wanted_deg, bearing_deg[order], x_px[order]))
    axes.set_xticklabels(
        [CARDINALS.get(int(v) % 360, f"{int(v) % 360}°") for v in wanted_deg]
    )
    axes.set_xlabel("true bearing", fontsize=7.5, color=PENCIL, labelpad=2)
