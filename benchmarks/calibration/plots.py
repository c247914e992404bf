"""Draw the pictures of the page, in the project's colours."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

from calibration.counting import (
    NEAR_M,
    Added,
    Line,
    band,
    found_within,
    numbers,
)
from wherestood.record.palette import (
    GRAPHITE,
    IRON_BLUE,
    PAPER,
    PENCIL,
    STRAW,
)

DPI = 110
WIDTH_IN, HEIGHT_IN = 6.0, 4.2
#: Sharpness asked for: regions over what could be, at most.
MOST_TIMES = 3.0


def draw_held(path: Path, named: dict[str, list[Line]]) -> None:
    """Draw how often regions held the truth against what they promise."""
    figure, axes = _page()
    promised = np.linspace(0.01, 0.99, 99)
    largest = max((len(lines) for lines in named.values()), default=0)
    if largest:
        bands = np.array([band(largest, level) for level in promised]) / largest
        axes.fill_between(promised, *bands.T, color=PENCIL, alpha=0.18, linewidth=0)
    axes.plot([0, 1], [0, 1], color=GRAPHITE, linewidth=0.8)
    for (name, lines), (colour, dashes) in zip(
        named.items(), ((IRON_BLUE, "-"), (STRAW, "--")), strict=True
    ):
        if lines:
            denser = numbers(lines, "denser")
            held = [(denser < level).mean() for level in promised]
            label = f"{name}, {len(lines)} plates"
            axes.plot(promised, held, dashes, color=colour, linewidth=1.8, label=label)
    axes.set(
        xlim=(0, 1),
        ylim=(0, 1),
        xlabel="probability of the region",
        ylabel="share of plates whose station it held",
    )
    axes.set_aspect("equal")
    _legend(axes, "lower right")
    _save(figure, path)


def draw_sharp(path: Path, lines: list[Line]) -> None:
    """Draw the areas of regions against the smallest that could be."""
    figure, axes = _page()
    bound, area = numbers(lines, "bound_area_ha"), numbers(lines, "area_90_ha")
    near = numbers(lines, "horizon_m") < NEAR_M
    km = f"{NEAR_M / 1000:g} km"
    for which, marker, colour, label in (
        (~near, "o", IRON_BLUE, f"horizon {km} and beyond"),
        (near, "x", STRAW, f"horizon under {km}"),
    ):
        axes.scatter(
            bound[which], area[which], s=22, marker=marker, color=colour, label=label
        )
    ends = np.array([min(bound.min(), area.min()), max(bound.max(), area.max())])
    axes.plot(ends, ends, color=GRAPHITE, linewidth=0.8, label="as small as could be")
    axes.plot(
        ends,
        MOST_TIMES * ends,
        ":",
        color=GRAPHITE,
        linewidth=1.0,
        label=f"{MOST_TIMES:g} times that",
    )
    axes.set(
        xscale="log",
        yscale="log",
        xlabel="bound for one who knows the true noise [ha]",
        ylabel="area of the 90% region [ha]",
    )
    _legend(axes, "upper left")
    _save(figure, path)


def draw_found(path: Path, named: dict[str, list[Line]], ground_km2: float) -> None:
    """Draw how many stations are found on how much ground, likeliest first."""
    figure, axes = _page()
    whole_ha = 100.0 * ground_km2
    walked = np.geomspace(0.02, whole_ha, 200)
    axes.plot(
        walked, walked / whole_ha, ":", color=GRAPHITE, linewidth=1.0, label="at random"
    )
    for (name, lines), (colour, dashes) in zip(
        named.items(), ((IRON_BLUE, "-"), (STRAW, "--")), strict=True
    ):
        if lines:
            found = found_within(lines, walked)
            axes.plot(walked, found, dashes, color=colour, linewidth=1.8, label=name)
    axes.set(
        xscale="log",
        ylim=(0, 1),
        xlim=(walked[0], walked[-1]),
        xlabel="ground walked, the likeliest first [ha]",
        ylabel="share of stations found",
    )
    _legend(axes, "upper left")
    _save(figure, path)


def draw_added(path: Path, rows: list[Added]) -> None:
    """Draw what each kind of evidence leaves of the skyline's region."""
    shown = [row for row in rows if row.kind != "alone"][::-1]
    figure, axes = _page(height_in=0.8 + 0.27 * len(shown))
    place = np.arange(len(shown))
    for at, row in zip(place, shown, strict=True):
        axes.plot([row.low, row.high], [at, at], color=IRON_BLUE, linewidth=1.4)
    axes.plot([row.ratio for row in shown], place, "o", color=IRON_BLUE, markersize=6)
    axes.axvline(1.0, color=GRAPHITE, linewidth=0.8)
    axes.set_xscale("log")
    axes.set_ylim(-0.7, len(shown) - 0.3)
    axes.set_yticks(place, [row.kind for row in shown])
    axes.set_xlabel("region of 90% over that of the skyline alone (line: middle half)")
    _save(figure, path)


def _page(height_in: float = HEIGHT_IN) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(WIDTH_IN, height_in), dpi=DPI, layout="constrained")
    FigureCanvasAgg(figure)
    figure.set_facecolor(PAPER)
    axes = figure.add_subplot()
    axes.set_facecolor(PAPER)
    axes.tick_params(colors=GRAPHITE, labelsize=8)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("bottom", "left"):
        axes.spines[side].set_color(PENCIL)
    return figure, axes


def _legend(axes: Axes, where: str) -> None:
    axes.legend(loc=where, fontsize=8, frameon=False, labelcolor=GRAPHITE)


def _save(figure: Figure, path: Path) -> None:
    for axes in figure.axes:
        axes.xaxis.label.set_size(9)
        axes.yaxis.label.set_size(9)
        for axis in (axes.xaxis, axes.yaxis):
            if axis.get_scale() == "log":
                axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    path.parent.mkdir(parents=True, exist_ok=True)
    # No date inside: the same results give the same file.
    figure.savefig(path, metadata={"Software": None})
