"""Draw a report's pictures at the width of its page, letters large enough to read."""

from __future__ import annotations

import io
from collections.abc import Sequence

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from PIL import Image

from wherestood.fix.result import Fix
from wherestood.ground.mapping import Mapping
from wherestood.ground.rendering import render_view
from wherestood.ground.standing import central_standing
from wherestood.plate.scan import Plate
from wherestood.record.against import against_figure
from wherestood.record.comparison import draw_plate
from wherestood.record.drawn_items import item_key
from wherestood.record.drawn_marks import mark_key
from wherestood.record.drawn_ridges import ridge_key
from wherestood.record.inputs import FixInputs
from wherestood.record.legend import elevation_line, map_key
from wherestood.record.map import (
    CLOSE_SHARE,
    frame_ticks,
    map_panel,
    outline_close,
)
from wherestood.record.map_extents import bounds, close_extent, square_about
from wherestood.record.palette import GRAPHITE, IRON_BLUE, MADDER, PAPER, PENCIL
from wherestood.record.report.content import Picture, against_name
from wherestood.record.report.facts import SeenFacts
from wherestood.record.settled import in_frame
from wherestood.record.signs import casing

__all__ = [
    "against_picture",
    "comparison_picture",
    "keyed_plate_picture",
    "map_picture",
    "view_picture",
]

#: The width of a page of A4 between margins of 20 mm [in], and its print's fineness.
WIDTH_IN = 170.0 / 25.4
DPI = 300
LONGEST_PX = 2000
TALLEST_IN = 3.95  # a plate and its key share a page with what stands above them
LETTER_IN = 0.28
LETTER_PT = 9.0


def _picture(name: str, caption: str, alt: str, figure: Figure) -> Picture:
    held, drawn = io.BytesIO(), io.BytesIO()
    figure.savefig(held, format="png", dpi=DPI, facecolor="white")
    # The same figure makes the same file: no date in it, no chance in its names.
    with mpl.rc_context({"svg.hashsalt": name}):
        figure.savefig(
            drawn, format="svg", dpi=DPI, facecolor="white", metadata={"Date": None}
        )
    width_mm = 25.4 * figure.get_figwidth()
    return Picture(name, caption, alt, held.getvalue(), width_mm, drawn.getvalue())


def keyed_plate_picture(plate: Plate, seen: Sequence[SeenFacts]) -> Picture:
    """Return the plate with the letters of what is seen on it, outside the image.

    Letters stand along the nearer of its upper and lower edge, each with a line to
    what it names; what nobody marked has no letter here.
    """
    marked = [one for one in seen if one.points_px]
    picture, _ = plate.reduced(LONGEST_PX)
    tall = plate.height_px / plate.width_px
    wide_in = min(WIDTH_IN, TALLEST_IN / tall)
    above, below = _sides(marked, plate.height_px)
    rim = [LETTER_IN + 0.06 if side else 0.0 for side in (above, below)]
    height_in = wide_in * tall + sum(rim)
    figure = Figure(figsize=(wide_in, height_in), dpi=DPI, facecolor="white")
    axes = figure.add_axes((0.0, rim[1] / height_in, 1.0, wide_in * tall / height_in))
    axes.imshow(
        picture, cmap="gray", vmin=0.0, vmax=1.0, aspect="auto",
        extent=(0, plate.width_px, plate.height_px, 0), interpolation="antialiased",
    )  # fmt: skip
    axes.set(xlim=(0, plate.width_px), ylim=(plate.height_px, 0))
    axes.set_axis_off()
    for one in marked:
        _draw_shape(axes, one)
    px_per_in = plate.width_px / wide_in
    for side, edge_px, way in ((above, 0.0, -1.0), (below, plate.height_px, 1.0)):
        wide_px = (0.17 + 0.09 * max((len(one.letter) for one in side), default=1)) * (
            px_per_in
        )
        places = _apart([_at(one)[0] for one in side], wide_px, plate.width_px)
        for one, x_px in zip(side, places, strict=True):
            _letter(axes, one, x_px, edge_px + way * 0.55 * LETTER_IN * px_per_in)
    letters = ", ".join(one.letter for one in marked)
    alt = f"The plate, with {letters} marked on it." if marked else "The plate."
    return _picture("plate", "The plate, lettered; the key stands below.", alt, figure)


def _at(one: SeenFacts) -> tuple[float, float]:
    """Return the point a letter's line goes to: of a line its middle."""
    points = np.array(one.points_px)
    if one.shape == "line":
        x, y = points[len(points) // 2]
    else:
        x, y = points.mean(axis=0)
    return float(x), float(y)


def _sides(
    marked: Sequence[SeenFacts], height_px: int
) -> tuple[list[SeenFacts], list[SeenFacts]]:
    """Part what is marked by the nearer edge, each from left to right."""
    order = sorted(marked, key=lambda one: _at(one)[0])
    upper = [one for one in order if _at(one)[1] <= height_px / 2]
    return upper, [one for one in order if one not in upper]


def _apart(wanted: Sequence[float], least: float, width: float) -> list[float]:
    """Move places along an edge as little as keeps them apart and on it."""
    places = list(wanted)
    low = least / 2
    for i, place in enumerate(places):
        places[i] = low = max(place, low)
        low += least
    high = width - least / 2
    for i in reversed(range(len(places))):
        places[i] = high = min(places[i], high)
        high -= least
    return places


def _draw_shape(axes: Axes, one: SeenFacts) -> None:
    points = np.array(one.points_px)
    if len(points) == 1:
        for colour, width_pt, order in ((PAPER, 3.2, 4), (MADDER, 1.5, 5)):
            axes.plot(
                *points.T, marker="o", ms=8, mfc="none", mec=colour, mew=width_pt,
                zorder=order,
            )  # fmt: skip
        return
    if one.shape == "outline":
        points = np.vstack([points, points[:1]])
    for colour, width_pt, order in ((PAPER, 3.2, 4), (MADDER, 1.5, 5)):
        axes.plot(*points.T, color=colour, lw=width_pt, zorder=order)


def _letter(axes: Axes, one: SeenFacts, x_px: float, y_px: float) -> None:
    axes.annotate(
        one.letter, _at(one), (x_px, y_px), xycoords="data", textcoords="data",
        ha="center", va="center", fontsize=LETTER_PT, color=MADDER, zorder=8,
        annotation_clip=False,
        arrowprops={
            "arrowstyle": "-", "color": MADDER, "linewidth": 0.7, "shrinkA": 0,
            "shrinkB": 5, "path_effects": casing(2.0),
        },
        bbox={
            "boxstyle": "square,pad=0.25", "facecolor": PAPER, "edgecolor": MADDER,
            "linewidth": 0.8,
        },
    )  # fmt: skip


def map_picture(fix: Fix, inputs: FixInputs) -> Picture:
    """Return the map of a fix: the whole ground searched, beside it the place close."""
    frame = inputs.terrain.frame
    regions = {p: in_frame(r, frame) for p, r in fix.regions.items()}
    ground = inputs.area.in_frame(frame)
    whole = square_about(bounds(ground, fix, regions, frame), 0.11)
    close = close_extent(fix, regions, CLOSE_SHARE * (whole[1] - whole[0]))
    side_in = 3.05 if close is not None else 4.6
    left_in = 0.26
    height_in = side_in + 0.26 + (1.75 if close is not None else 0.15) + 0.2
    figure = Figure(figsize=(WIDTH_IN, height_in), dpi=DPI, facecolor="white")

    def square(left: float) -> Axes:
        bottom = 1 - (0.2 + side_in) / height_in
        return figure.add_axes(
            (left / WIDTH_IN, bottom, side_in / WIDTH_IN, side_in / height_in)
        )

    overview = square(left_in)
    map_panel(overview, fix, inputs, regions, ground, whole, enlarged=close)
    frame_ticks(overview, frame)
    key_left, key_top = (left_in + side_in + 0.15) / WIDTH_IN, 1 - 0.4 / height_in
    if close is not None:
        near = square(left_in + side_in + 0.28)
        map_panel(near, fix, inputs, regions, ground, close, near_view=True)
        near.set_title("Closer", loc="left", fontsize=8, color=GRAPHITE, pad=3)
        outline_close(overview, close)
        key_left, key_top = left_in / WIDTH_IN, 1 - (side_in + 0.6) / height_in
    map_key(figure, fix, inputs, left=key_left, top=key_top)
    return _picture(
        "map",
        f"Where the camera stood: the ground searched and what holds it. "
        f"{elevation_line(inputs.terrain)} North is true.",
        "A map of shaded hills: the ground searched, the regions that hold the camera "
        "5 and 9 times in 10, the likeliest place and what it looks at.",
        figure,
    )


def comparison_picture(fix: Fix, inputs: FixInputs) -> Picture:
    """Return the plate with the computed horizon over what was traced on it."""
    picture, _ = inputs.plate.reduced(LONGEST_PX)
    tall = inputs.plate.height_px / inputs.plate.width_px
    wide_in = min(WIDTH_IN, TALLEST_IN / tall)
    rows = _key(fix, inputs)
    foot_in = 0.19 * ((len(rows) + 1) // 2) + 0.1
    height_in = wide_in * tall + foot_in
    figure = Figure(figsize=(wide_in, height_in), dpi=DPI, facecolor="white")
    axes = figure.add_axes((0.0, foot_in / height_in, 1.0, wide_in * tall / height_in))
    draw_plate(axes, picture, fix, inputs)
    figure.legend(
        handles=rows, loc="lower left", bbox_to_anchor=(0.0, 0.0), ncols=2,
        frameon=False, fontsize=8, labelcolor=GRAPHITE, borderaxespad=0.1,
    )  # fmt: skip
    return _picture(
        "comparison",
        "The plate against the ground. Solid red: what was traced and marked. Dashed "
        "blue: what the elevation model says should show from the likeliest place. A "
        "good match proves little by itself: hills repeat.",
        "The plate with the traced skyline and the computed horizon over it.",
        figure,
    )


def view_picture(mapping: Mapping) -> Picture:
    """Return the terrain as the plate's camera shows it, at the fix's middle camera."""
    wide, high = mapping.scan_px
    one = central_standing(mapping)
    drawn = render_view(
        one.ground, one.cameras, mapping.scan_px, min(LONGEST_PX, max(wide, high)),
        farthest_m=mapping.doubts.farthest_m,
    )  # fmt: skip
    held = io.BytesIO()
    Image.fromarray(drawn).save(held, format="png")
    wide_mm = 25.4 * min(WIDTH_IN, TALLEST_IN * wide / high)
    caption = (
        "What the elevation model shows through the plate's camera from there: hills "
        "lit from the left and paler with distance, dark lines where one ridge stands "
        "before another. No trees and no houses are in it."
    )
    if caution := mapping.caution():
        caution = f" {caution}"
    return Picture(
        "view", caption + caution, "Shaded hills as the camera would show them.",
        held.getvalue(), wide_mm,
    )  # fmt: skip


def against_picture(fix: Fix, inputs: FixInputs, number: int) -> Picture:
    """Return the answer against one proposed position, the first being 1."""
    told = fix.proposed[number - 1]
    name = told.proposed.name
    return _picture(
        against_name(number),
        f"The answer against {name}: the plate about its skyline. Solid red: what was "
        "traced. Dashed blue: the horizon from the answer. Dotted black: the horizon "
        f"from where the evidence fits best near the position of {name}.",
        f"The plate with the traced skyline and two horizons over it: from the answer, "
        f"and from near the position of {name}.",
        against_figure(fix, inputs, told, WIDTH_IN, DPI),
    )


def _key(fix: Fix, inputs: FixInputs) -> list[Line2D]:
    rows = []
    if inputs.has_skyline:
        rows.append(Line2D([], [], color=MADDER, linewidth=1.8, label="skyline traced"))
    if len(fix.computed_skyline_px):
        rows.append(
            Line2D(
                [], [], color=IRON_BLUE, linewidth=1.8, linestyle=(0, (4, 2.4)),
                label="horizon computed, paler with distance",
            )
        )  # fmt: skip
    rows += [*ridge_key(fix, inputs), *mark_key(fix, inputs)]
    named = {row.get_label() for row in rows}
    rows += [row for row in item_key(fix, inputs) if row.get_label() not in named]
    return rows or [Line2D([], [], color=PENCIL, label="nothing was traced")]
