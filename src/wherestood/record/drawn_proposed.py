"""Draw positions that somebody proposed on a map."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from wherestood.earth.frame import Frame
from wherestood.fix.result import Fix, Proposed
from wherestood.record.hillshade import Extent
from wherestood.record.inputs import FixInputs
from wherestood.record.palette import MADDER, PAPER
from wherestood.record.signs import casing, tripod_marker

__all__ = ["draw_proposed", "proposed_key", "proposed_nearby"]

SIZE_PT = 26.0
#: Positions farther from the ground searched than this part of its size are not drawn.
NEARBY = 0.5
LONGEST_NAME = 24


def draw_proposed(axes: Axes, fix: Fix, inputs: FixInputs, extent: Extent) -> None:
    """Draw each proposed position in a window with its name, as a person put it.

    A tripod where a bearing was given, and a ring where none was.
    """
    frame = inputs.terrain.frame
    for told in fix.proposed:
        east_m, north_m = _at(told.proposed, frame)
        west, east, south, north = extent
        if not (west < east_m < east and south < north_m < north):
            continue
        bearing = told.proposed.bearing_deg
        turn = frame.convergence_deg(told.proposed.lon_deg, told.proposed.lat_deg)
        sign = "o" if bearing is None else tripod_marker(bearing - turn)
        for colour, width_pt, order in ((PAPER, 4.2, 8.2), (MADDER, 1.8, 8.4)):
            axes.plot(
                [east_m],
                [north_m],
                marker=sign,
                markersize=10.0 if bearing is None else SIZE_PT,
                markeredgewidth=width_pt,
                markeredgecolor=colour,
                markerfacecolor="none",
                linestyle="none",
                zorder=order,
            )
        axes.annotate(
            _short(told.proposed.name),
            (east_m, north_m),
            (0, -15),
            textcoords="offset points",
            ha="center",
            va="top",
            fontsize=8,
            color=MADDER,
            zorder=10,
            path_effects=casing(2.5),
            annotation_clip=True,
        )


def proposed_key(fix: Fix) -> list[tuple[Line2D, str]]:
    """Return the key to what is drawn; empty where nothing was proposed."""
    if not fix.proposed:
        return []
    sign = Line2D(
        [], [], linestyle="None", marker="o", markersize=8.0, markerfacecolor="none",
        markeredgecolor=MADDER, markeredgewidth=1.6, markevery=[0],
    )  # fmt: skip
    return [(sign, "position that somebody proposed")]


def proposed_nearby(fix: Fix, frame: Frame, ground: BaseGeometry) -> list[BaseGeometry]:
    """Return the proposed positions that a map of the ground should take in."""
    west, south, east, north = ground.bounds
    reach_m = NEARBY * max(east - west, north - south)
    points = [Point(*_at(told.proposed, frame)) for told in fix.proposed]
    return [point for point in points if point.distance(ground) <= reach_m]


def _at(proposed: Proposed, frame: Frame) -> tuple[float, float]:
    east, north = frame.from_lonlat(
        np.array([proposed.lon_deg]), np.array([proposed.lat_deg])
    )
    return float(east[0]), float(north[0])


def _short(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}\u2026"
