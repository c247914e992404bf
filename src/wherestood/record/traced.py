"""Draw a plate with its traced skyline, before anything is computed."""

from __future__ import annotations

from pathlib import PurePath

from matplotlib.figure import Figure

from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline
from wherestood.record.legend import SERIF
from wherestood.record.lines import (
    draw_gap_ends,
    draw_picture,
    draw_traced,
    lay_mount,
)
from wherestood.record.palette import GRAPHITE, PAPER, PENCIL

__all__ = ["traced_figure"]

DPI = 150
WIDTH_IN = 11.0
LONGEST_PX = 1600


def traced_figure(plate: Plate, skyline: Skyline) -> Figure:
    """Return the plate with the traced line over it and its gaps ticked."""
    picture, _ = plate.reduced(LONGEST_PX)
    across_in = WIDTH_IN - 0.7
    plate_in = min(across_in * plate.height_px / plate.width_px, 9.5)
    width_in = plate_in * plate.width_px / plate.height_px
    height_in = plate_in + 1.25
    figure = Figure(figsize=(WIDTH_IN, height_in), dpi=DPI, facecolor=PAPER)
    left = (WIDTH_IN - width_in) / 2 / WIDTH_IN
    axes = figure.add_axes(
        (left, 0.3 / height_in, width_in / WIDTH_IN, plate_in / height_in)
    )
    lay_mount(figure, axes)
    draw_picture(axes, picture, skyline)
    draw_traced(axes, skyline)
    draw_gap_ends(axes, skyline)
    for words, up_in, size_pt, colour, family in (
        ("The skyline as traced", 0.42, 15, GRAPHITE, SERIF),
        (PurePath(plate.path).stem, 0.68, 9.5, PENCIL, "DejaVu Sans"),
    ):
        figure.text(
            0.35 / WIDTH_IN,
            1 - up_in / height_in,
            words,
            fontsize=size_pt,
            color=colour,
            family=family,
        )
    return figure
