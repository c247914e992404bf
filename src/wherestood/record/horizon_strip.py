"""Draw the horizon seen from a place as a strip."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from wherestood.record.legend import SERIF
from wherestood.record.palette import GRAPHITE, PAPER, PENCIL
from wherestood.record.signs import faded

__all__ = ["horizon_figure"]

DPI = 150
SIZE_IN = (13.0, 3.6)
CARDINALS = {0: "N", 90: "E", 180: "S", 270: "W"}


def horizon_figure(
    bearing_deg: NDArray[np.float64],
    elevation_deg: NDArray[np.float64],
    distance_m: NDArray[np.float64],
    *,
    title: str,
    sources: str,
) -> Figure:
    """Return the horizon as an ink-wash strip, darker where near.

    Parameters
    ----------
    bearing_deg : (n,) float64 array
        True bearings, rising [deg].
    elevation_deg, distance_m : (n,) float64 array
        The horizon above the level [deg] and its distance [m]; NaN where unknown.
    title, sources : str
        Words over and under the strip.
    """
    figure = Figure(figsize=SIZE_IN, dpi=DPI, facecolor=PAPER)
    axes = figure.add_axes((0.05, 0.22, 0.935, 0.58))
    axes.set_facecolor(PAPER)
    known = np.isfinite(elevation_deg) & np.isfinite(distance_m)
    low, high = -1.0, 1.0
    if known.any():
        low = min(-0.5, float(elevation_deg[known].min()) - 0.5)
        high = max(1.0, 1.15 * float(elevation_deg[known].max()))
    axes.set(xlim=(bearing_deg[0], bearing_deg[-1]), ylim=(low, high))
    if known.any():
        tones = faded(GRAPHITE, 0.18 + 0.72 * _nearness(distance_m[known]))
        half = np.median(np.diff(bearing_deg)) / 2 * 1.1
        axes.bar(
            bearing_deg[known],
            elevation_deg[known] - low,
            width=2 * half,
            bottom=low,
            color=tones,
            linewidth=0,
            zorder=2,
        )
        axes.plot(bearing_deg, elevation_deg, color=GRAPHITE, linewidth=0.9, zorder=3)
    axes.axhline(0.0, color=PENCIL, linewidth=0.6, linestyle=(0, (1, 2)), zorder=4)
    _dress(figure, bearing_deg)
    figure.text(0.05, 0.89, title, fontsize=13, color=GRAPHITE, family=SERIF)
    figure.text(0.05, 0.035, sources, fontsize=7.5, color=PENCIL)
    return figure


def _nearness(distance_m: NDArray[np.float64]) -> NDArray[np.float64]:
    near, far = np.log(np.percentile(distance_m, [2, 98]))
    share = (far - np.log(distance_m)) / max(far - near, 0.5)
    nearness: NDArray[np.float64] = np.clip(share, 0.0, 1.0)
    return nearness


def _dress(figure: Figure, bearing_deg: NDArray[np.float64]) -> None:
    """Write bearings along the foot, cardinals by name."""
    axes = figure.axes[0]
    reach_deg = bearing_deg[-1] - bearing_deg[0]
    step_deg = 5 if reach_deg <= 120 else 10
    ticks = np.arange(
        np.ceil(bearing_deg[0] / step_deg), bearing_deg[-1] // step_deg + 1
    )
    axes.set_xticks(ticks * step_deg)
    axes.set_xticklabels(
        [CARDINALS.get(int(t) % 360, f"{int(t) % 360}") for t in ticks * step_deg]
    )
    axes.tick_params(colors=PENCIL, labelsize=7.5, length=3)
    axes.set_ylabel("above level, degrees", fontsize=8, color=PENCIL)
    axes.set_xlabel(
        "true bearing, degrees; darker hills are nearer", fontsize=8, color=PENCIL
    )
    for name, side in axes.spines.items():
        side.set_visible(name in ("left", "bottom"))
        side.set(color=PENCIL, linewidth=0.7)
