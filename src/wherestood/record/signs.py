"""Draw the signs of maps and plates."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.colors import to_rgba
from matplotlib.markers import MarkerStyle
from matplotlib.path import Path
from matplotlib.patheffects import withStroke
from matplotlib.transforms import Affine2D
from numpy.typing import NDArray

from wherestood.record.palette import GRAPHITE, IRON_BLUE, PAPER, PENCIL

__all__ = [
    "casing",
    "draw_north",
    "draw_scale_bar",
    "draw_tripod",
    "draw_wedge",
    "faded",
    "round_length_m",
    "tripod_marker",
]

SIGN_PT = 17.0  # span of a tripod sign
WEDGE_PARTS = 40


def casing(width_pt: float) -> list[withStroke]:
    """Return a paper-coloured casing for a line or for words."""
    return [withStroke(linewidth=width_pt, foreground=PAPER)]


def faded(colour: str, share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return colours from full (1) to paper (0), as (n, 4) RGBA."""
    full, paper = np.array(to_rgba(colour)), np.array(to_rgba(PAPER))
    mixed: NDArray[np.float64] = paper + np.outer(share, full - paper)
    return mixed


def draw_tripod(
    axes: Axes,
    east_m: float,
    north_m: float,
    grid_bearing_deg: float,
    *,
    colour: str = IRON_BLUE,
    width_pt: float = 2.0,
    size_pt: float = SIGN_PT,
) -> None:
    """Draw a tripod seen from above, one leg toward the view."""
    for line_colour, extra_pt, order in ((PAPER, 2.6, 8), (colour, 0.0, 9)):
        axes.plot(
            [east_m],
            [north_m],
            marker=tripod_marker(grid_bearing_deg),
            markersize=2 * size_pt,
            markeredgewidth=width_pt + extra_pt,
            markeredgecolor=line_colour,
            markerfacecolor="none",
            linestyle="none",
            zorder=order,
        )


def tripod_marker(grid_bearing_deg: float) -> MarkerStyle:
    """Return the station's sign, its long leg on a grid bearing."""
    legs = np.radians(90.0 - grid_bearing_deg + np.array([0.0, 120.0, 240.0]))
    vertices, codes = [], []
    for angle, length in zip(legs, (1.0, 0.72, 0.72), strict=True):
        vertices += [(0.0, 0.0), (length * math.cos(angle), length * math.sin(angle))]
        codes += [Path.MOVETO, Path.LINETO]
    return MarkerStyle(
        Path(vertices, codes), fillstyle="none", transform=Affine2D().scale(0.5)
    )


def draw_wedge(
    axes: Axes,
    east_m: float,
    north_m: float,
    grid_bearings_deg: tuple[float, float],
    length_m: float,
    *,
    width_pt: float = 1.1,
) -> None:
    """Draw the edges of the view as two thin lines fading with distance."""
    along = np.linspace(0.0, 1.0, WEDGE_PARTS + 1)
    for bearing_deg in grid_bearings_deg:
        angle = math.radians(bearing_deg)
        points = np.column_stack(
            (
                east_m + length_m * along * math.sin(angle),
                north_m + length_m * along * math.cos(angle),
            )
        )
        colours = np.tile(to_rgba(IRON_BLUE), (WEDGE_PARTS, 1))
        colours[:, 3] = 0.95 * (1.0 - along[:-1]) ** 0.8
        pieces = np.stack((points[:-1], points[1:]), axis=1)
        axes.add_collection(
            LineCollection(list(pieces), colors=colours, linewidths=width_pt, zorder=6),
            autolim=False,
        )


def round_length_m(longest_m: float) -> float:
    """Return the greatest of 1, 2 or 5 times a power of ten up to a length [m]."""
    power = 10.0 ** math.floor(math.log10(longest_m))
    steps = [step for step in (1, 2, 5) if step * power <= longest_m * (1 + 1e-9)]
    return power * steps[-1]


def draw_scale_bar(axes: Axes, longest_share: float = 0.3) -> None:
    """Draw a scale bar in the lower left corner of a map in metres."""
    west_m, east_m = axes.get_xlim()
    south_m, north_m = axes.get_ylim()
    width_m, height_m = east_m - west_m, north_m - south_m
    length_m = round_length_m(longest_share * width_m)
    left_m, base_m = west_m + 0.04 * width_m, south_m + 0.045 * height_m
    middle_m = left_m + length_m / 2
    for start_m, end_m, colour in (
        (left_m, middle_m, GRAPHITE),
        (middle_m, left_m + length_m, PAPER),
    ):
        for line_colour, width_pt in ((GRAPHITE, 4.6), (colour, 3.2)):
            axes.plot(
                [start_m, end_m],
                [base_m, base_m],
                color=line_colour,
                linewidth=width_pt,
                solid_capstyle="butt",
                zorder=12,
            )
    words = f"{length_m:g} m" if length_m < 1000 else f"{length_m / 1000:g} km"
    axes.annotate(
        words,
        (middle_m, base_m),
        (0, 5),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=8,
        color=GRAPHITE,
        zorder=12,
        path_effects=casing(2.5),
    )


def draw_north(axes: Axes, convergence_deg: float) -> None:
    """Draw an arrow to true north in the upper right corner of a map.

    Grid convergence is added to a grid bearing to make a true one, so true
    north lies at minus the convergence on the grid.
    """
    angle = math.radians(-convergence_deg)
    along = np.array([math.sin(angle), math.cos(angle)])
    tip = (0.945, 0.925)
    axes.annotate(
        "",
        tip,
        tuple(-26 * along),
        xycoords="axes fraction",
        textcoords="offset points",
        arrowprops={
            "arrowstyle": "-|>,head_width=0.22,head_length=0.6",
            "color": GRAPHITE,
            "linewidth": 1.2,
            "shrinkA": 0,
            "shrinkB": 0,
        },
        zorder=12,
    )
    for words, offset_pt, size_pt, colour in (
        ("N", 7.0, 9.5, GRAPHITE),
        ("true", -33.0, 6.5, PENCIL),
    ):
        axes.annotate(
            words,
            tip,
            tuple(offset_pt * along),
            xycoords="axes fraction",
            textcoords="offset points",
            ha="center",
            va="center",
            fontsize=size_pt,
            color=colour,
            zorder=12,
            path_effects=casing(2.5),
        )
