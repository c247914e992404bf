"""Draw a plate and the skyline traced on it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from numpy.typing import NDArray

from wherestood.plate.skyline import Skyline
from wherestood.record.fix_json import skyline_gaps
from wherestood.record.palette import MADDER, MOUNT, PAPER

__all__ = ["draw_gap_ends", "draw_picture", "draw_traced", "lay_mount", "pieces"]


def draw_picture(axes: Axes, picture: NDArray[np.float32], skyline: Skyline) -> None:
    """Draw the plate, in pixels of the whole scan."""
    axes.imshow(
        picture,
        cmap="gray",
        vmin=0.0,
        vmax=1.0,
        extent=(0, skyline.width_px, skyline.height_px, 0),
        interpolation="antialiased",
        aspect="auto",
    )
    axes.set(xlim=(0, skyline.width_px), ylim=(skyline.height_px, 0))
    axes.set_axis_off()


def lay_mount(figure: Figure, axes: Axes) -> None:
    """Lay the mount round the plate."""
    box = axes.get_position()
    size = figure.get_size_inches()
    margin = 0.12 / size
    figure.add_artist(
        Rectangle(
            (box.x0 - margin[0], box.y0 - margin[1]),
            box.width + 2 * margin[0],
            box.height + 2 * margin[1],
            transform=figure.transFigure,
            facecolor=MOUNT,
            edgecolor="none",
            zorder=-1,
        )
    )


def draw_traced(axes: Axes, skyline: Skyline) -> None:
    """Draw the traced line in its pieces, solid, with a paper casing."""
    for piece in pieces(skyline):
        for colour, width_pt, order in ((PAPER, 3.6, 3), (MADDER, 1.7, 4)):
            axes.plot(
                skyline.x_px[piece],
                skyline.y_px[piece],
                color=colour,
                linewidth=width_pt,
                zorder=order,
                solid_capstyle="butt",
            )


def pieces(skyline: Skyline) -> list[slice]:
    """Return the unbroken pieces of a traced line."""
    breaks = np.flatnonzero(skyline.break_after[:-1]) + 1
    edges = [0, *breaks.tolist(), len(skyline.x_px)]
    return [slice(a, b) for a, b in pairwise(edges) if b > a]


def draw_gap_ends(axes: Axes, skyline: Skyline) -> None:
    """Tick the ends of every gap."""
    tick_px = 0.018 * skyline.height_px
    for start_px, end_px in skyline_gaps(skyline):
        for at_px in (start_px, end_px):
            if not 0 < at_px < skyline.width_px:
                continue
            nearest = int(np.argmin(np.abs(skyline.x_px - at_px)))
            middle_px = skyline.y_px[nearest]
            for colour, width_pt in ((PAPER, 3.4), (MADDER, 1.6)):
                axes.plot(
                    [at_px, at_px],
                    [middle_px - tick_px, middle_px + tick_px],
                    color=colour,
                    linewidth=width_pt,
                    zorder=6,
                )
