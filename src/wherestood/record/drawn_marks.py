"""Draw marks on a plate, and where the camera found would show their features."""

from __future__ import annotations

import math
from typing import Any

from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Ellipse

from wherestood.fix.checked import HeldBack
from wherestood.fix.result import Fix
from wherestood.record.inputs import FixInputs
from wherestood.record.item_words import BLUNDER, blunder_share
from wherestood.record.palette import IRON_BLUE, MADDER, PAPER, STRAW
from wherestood.record.tags import Tag, write_tags

__all__ = ["draw_marks", "mark_key"]

SIGN_PT, THERE_PT = 7.0, 5.0
LINE_PT = 1.1
DASHES = (0, (2.5, 1.6))
#: Standard errors of a normal error in the plane that are kept to 9 times in 10.
NINE_IN_TEN = math.sqrt(2.0 * math.log(10.0))


def draw_marks(axes: Axes, fix: Fix, inputs: FixInputs) -> None:
    """Draw each mark with its id, and a line to where its feature should show.

    A blunder is straw, and a cross turned aside. A mark that counted nothing has no
    line. One held back is a lozenge, with the ellipse it was foretold in.
    """
    told = _told(fix)
    foretold = {one.id: one for one in fix.checks.held_back}
    tags = []
    for mark in inputs.evidence.marks:
        row = told.get(mark.id)
        blunder = row is not None and blunder_share(row) >= BLUNDER
        colour = STRAW if blunder else MADDER
        if row is not None:
            right_px, below_px = row["residual_px"]
            there = (mark.x_px - right_px, mark.y_px - below_px)
            _draw_way(axes, (mark.x_px, mark.y_px), there)
        if mark.id in foretold:
            _draw_foretold(axes, mark.x_px, mark.y_px, foretold[mark.id])
        sign = "D" if mark.held_back else "x" if blunder else "+"
        _draw_sign(axes, mark.x_px, mark.y_px, sign, colour)
        tags.append(Tag(mark.id, (mark.x_px, mark.y_px), colour, blunder))
    write_tags(axes, tags)


def mark_key(fix: Fix, inputs: FixInputs) -> list[Line2D]:
    """Return the key to what `draw_marks` draws; empty if it draws nothing."""
    if not inputs.evidence.marks:
        return []
    marks = inputs.evidence.marks
    rows = []
    if not all(mark.held_back for mark in marks):
        rows.append(_sign("+", MADDER, SIGN_PT, "mark on the plate"))
    if any(mark.held_back for mark in marks):
        rows.append(_sign("D", MADDER, SIGN_PT - 1.0, "mark held back: a test"))
    told = _told(fix)
    if told:
        rows.append(
            Line2D(
                [],
                [],
                color=IRON_BLUE,
                linewidth=LINE_PT,
                linestyle=DASHES,
                marker="o",
                markersize=THERE_PT,
                markerfacecolor=PAPER,
                label="where it should show",
            )
        )
    if fix.checks.held_back:
        ellipse = Line2D([], [], color=IRON_BLUE, linewidth=LINE_PT, linestyle=DASHES)
        ellipse.set_label("where it should be, 9 times in 10")
        rows.append(ellipse)
    if any(blunder_share(row) >= BLUNDER for row in told.values()):
        rows.append(_sign("x", STRAW, SIGN_PT, "mark that is likely a blunder"))
    return rows


def _told(fix: Fix) -> dict[str, dict[str, Any]]:
    """Return what the fix says of each mark that counted, by its id."""
    return {row["id"]: row for row in fix.evidence if row.get("residual_px")}


def _draw_way(
    axes: Axes, here: tuple[float, float], there: tuple[float, float]
) -> None:
    """Draw the line from a mark to where its feature should show."""
    along = ([here[0], there[0]], [here[1], there[1]])
    axes.plot(*along, color=PAPER, linewidth=LINE_PT + 1.6, zorder=7.0, alpha=0.8)
    axes.plot(*along, color=IRON_BLUE, linewidth=LINE_PT, linestyle=DASHES, zorder=7.1)
    axes.plot(
        *there,
        marker="o",
        markersize=THERE_PT,
        markerfacecolor=PAPER,
        markeredgecolor=IRON_BLUE,
        markeredgewidth=1.2,
        zorder=7.2,
    )


def _draw_foretold(axes: Axes, x_px: float, y_px: float, told: HeldBack) -> None:
    """Draw the ellipse that holds a mark 9 times in 10, and a line from its middle."""
    _draw_way(axes, (x_px, y_px), (told.x_px, told.y_px))
    for colour, width_pt, style, order in (
        (PAPER, LINE_PT + 1.6, "solid", 7.0),
        (IRON_BLUE, LINE_PT, DASHES, 7.1),
    ):
        axes.add_patch(
            Ellipse(
                (told.x_px, told.y_px),
                2.0 * NINE_IN_TEN * told.long_px,
                2.0 * NINE_IN_TEN * told.short_px,
                angle=told.turn_deg,
                fill=False,
                edgecolor=colour,
                linewidth=width_pt,
                linestyle=style,
                zorder=order,
            )
        )


def _draw_sign(axes: Axes, x_px: float, y_px: float, sign: str, colour: str) -> None:
    for line_colour, width_pt, order in ((PAPER, 3.4, 7.3), (colour, 1.6, 7.4)):
        axes.plot(
            x_px,
            y_px,
            marker=sign,
            markersize=SIGN_PT,
            markeredgewidth=width_pt,
            markeredgecolor=line_colour,
            markerfacecolor="none",
            zorder=order,
        )


def _sign(sign: str, colour: str, size_pt: float, label: str) -> Line2D:
    return Line2D(
        [],
        [],
        linestyle="none",
        marker=sign,
        markersize=size_pt,
        markeredgewidth=1.6,
        markeredgecolor=colour,
        markerfacecolor="none",
        label=label,
    )
