"""Draw ridges below the skyline: as traced on the plate, and as computed."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.lines import Line2D

from wherestood.fix.result import Fix
from wherestood.record.inputs import FixInputs
from wherestood.record.palette import IRON_BLUE, PAPER, STRAW
from wherestood.record.ridge_words import explained, ridges_counted

__all__ = ["draw_ridges", "ridge_key"]

#: Thin beside the skyline; those that the ground does not explain thinner and faint.
FIRM_PT, FAINT_PT = 1.4, 0.9
FAINT = 0.55
COMPUTED_PT = 1.1
#: Columns of the plate, out of all: every other one of them holds a dash.
DASHES_ACROSS = 100


def draw_ridges(axes: Axes, fix: Fix, inputs: FixInputs) -> None:
    """Draw the ridge lines that counted, firm where explained, and the computed."""
    agree = {item["id"]: explained(item) for item in ridges_counted(fix)}
    if agree:
        _draw_computed(axes, fix, inputs.skyline.width_px)
    for ridge in inputs.ridges:
        if ridge.id not in agree:
            continue
        firm = agree[ridge.id]
        width_pt = FIRM_PT if firm else FAINT_PT
        for colour, wide_pt, order in ((PAPER, 1.6, 2.4), (STRAW, 0.0, 2.5)):
            axes.plot(
                ridge.line.x_px,
                ridge.line.y_px,
                color=colour,
                alpha=1.0 if firm else FAINT,
                linewidth=width_pt + wide_pt,
                zorder=order,
                solid_capstyle="butt",
            )


def ridge_key(fix: Fix, inputs: FixInputs) -> list[Line2D]:
    """Return the key to what `draw_ridges` draws; empty if it draws nothing."""
    if not ridges_counted(fix):
        return []
    drawn = any(ridge.line.source != "traced" for ridge in inputs.ridges)
    traced = f"ridge lines {'drawn' if drawn else 'traced'} on the plate"
    rows = [Line2D([], [], color=STRAW, linewidth=FIRM_PT, label=traced)]
    if not all(explained(item) for item in ridges_counted(fix)):
        rows[0].set_label(f"{traced}, faint if unmatched")
    if len(fix.computed_ridges_px):
        rows.append(
            Line2D(
                [],
                [],
                color=IRON_BLUE,
                linewidth=COMPUTED_PT,
                linestyle=(0, (2.5, 2.5)),
                label="nearer ridges computed",
            )
        )
    return rows


def _draw_computed(axes: Axes, fix: Fix, width_px: int) -> None:
    """Draw computed ridges as short dashes: what falls into every other column."""
    ends = fix.computed_ridges_px
    column = np.floor(ends[:, :, 0].mean(axis=1) / width_px * DASHES_ACROSS)
    dashes = ends[column.astype(int) % 2 == 0]
    for colour, width_pt in ((PAPER, COMPUTED_PT + 0.9), (IRON_BLUE, COMPUTED_PT)):
        axes.add_collection(
            LineCollection(
                list(dashes), colors=colour, linewidths=width_pt, zorder=2.2, alpha=0.8
            )
        )
