"""Draw the map and the view of a field sheet."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from wherestood.ground.mapping import Mapping
from wherestood.plate.scan import Plate
from wherestood.record.hillshade import draw_ground
from wherestood.record.palette import GRAPHITE, IRON_BLUE, MADDER, PAPER
from wherestood.record.signs import (
    casing,
    draw_north,
    draw_scale_bar,
    draw_tripod,
    draw_wedge,
)
from wherestood.terrain.ground import height_m
from wherestood.visit.approach import Approach
from wherestood.visit.field_sheet import FieldSheet

__all__ = ["map_picture", "view_picture"]

_DPI = 160
_LEAST_HALF_M, _MOST_HALF_M = 150.0, 6000.0
_LONGEST_PX = 1500


def map_picture(sheet: FieldSheet, mapping: Mapping) -> Figure:
    """Return the map: region, places, view, paired things, hills."""
    rings = _rings(sheet, mapping)
    places = np.array([(one.east_m, one.north_m) for one in sheet.places])
    all_points = np.vstack([places, *rings]) if rings else places
    middle = 0.5 * (all_points.min(axis=0) + all_points.max(axis=0))
    half = 0.65 * float(np.ptp(all_points, axis=0).max())
    half = min(max(half, _LEAST_HALF_M), _MOST_HALF_M)
    extent = (middle[0] - half, middle[0] + half, middle[1] - half, middle[1] + half)
    figure = Figure(figsize=(5.6, 5.6), dpi=_DPI, facecolor=PAPER)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    terrain = mapping.ground.model.terrain
    draw_ground(axes, terrain, extent)
    _draw_contours(axes, mapping, extent)
    for ring in rings:
        axes.fill(*ring.T, facecolor=IRON_BLUE, alpha=0.16, zorder=3)
        axes.plot(*ring.T, color=IRON_BLUE, lw=1.2, ls=(0, (5, 2)), zorder=4)
    axes.set_xlim(extent[:2])
    axes.set_ylim(extent[2:])
    first = sheet.places[0]
    draw_wedge(axes, first.east_m, first.north_m, sheet.bearings_deg, 0.8 * half)
    left, right = sheet.bearings_deg
    bearing = left + ((right - left) % 360.0) / 2.0
    for place in reversed(sheet.places):
        if _inside(place.east_m, place.north_m, extent):
            draw_tripod(axes, place.east_m, place.north_m, bearing)
            if len(sheet.places) > 1:
                axes.annotate(
                    str(place.number), (place.east_m, place.north_m), (8, 8),
                    textcoords="offset points", color=GRAPHITE, fontsize=11,
                    weight="bold", path_effects=casing(3.0), zorder=10,
                )  # fmt: skip
    for spot in sheet.spots:
        _draw_clear_spot(axes, first.east_m + spot.east_m, first.north_m + spot.north_m)
    _draw_things(axes, sheet, extent)
    if sheet.approach is not None:
        _draw_approach(axes, (first.east_m, first.north_m), sheet.approach, half)
    draw_scale_bar(axes)
    draw_north(
        axes,
        terrain.frame.convergence_deg(first.lon_deg, first.lat_deg),
    )
    axes.set_xticks([])
    axes.set_yticks([])
    return figure


def _draw_things(
    axes: Axes, sheet: FieldSheet, extent: tuple[float, float, float, float]
) -> None:
    """Draw paired things, each name where it covers none before it."""
    side = extent[1] - extent[0]
    named: list[tuple[float, float]] = []
    things = {one.name: one for pair in sheet.pairs for one in (pair.near, pair.far)}
    for thing in things.values():
        at = thing.east_m, thing.north_m
        if not _inside(*at, extent):
            continue
        axes.plot(*at, "o", color=MADDER, ms=5, zorder=9)
        crowded = any(
            abs(at[0] - east) < 0.4 * side and abs(at[1] - north) < 0.03 * side
            for east, north in named
        )
        left = crowded or at[0] > extent[1] - 0.3 * side
        axes.annotate(
            thing.name, at, (-6, -3) if left else (6, -3), textcoords="offset points",
            ha="right" if left else "left", color=GRAPHITE, fontsize=9,
            path_effects=casing(2.5), zorder=10,
        )  # fmt: skip
        named.append(at)


def _draw_clear_spot(axes: Axes, east_m: float, north_m: float) -> None:
    axes.plot(
        east_m, north_m, "o", mfc="none", mec=IRON_BLUE, mew=1.4, ms=9, zorder=9,
        path_effects=casing(2.8),
    )  # fmt: skip
    axes.annotate(
        "clear", (east_m, north_m), (7, -3), textcoords="offset points",
        color=GRAPHITE, fontsize=8, path_effects=casing(2.5), zorder=10,
    )  # fmt: skip


def _draw_approach(
    axes: Axes, at_m: tuple[float, float], approach: Approach, half_m: float
) -> None:
    """Draw an arrow towards the spot from the side where the ground is gentlest."""
    angle = np.radians(approach.bearing_deg)
    way = np.array([np.sin(angle), np.cos(angle)])
    tail, head = (
        (
            at_m[0] + share * half_m * float(way[0]),
            at_m[1] + share * half_m * float(way[1]),
        )
        for share in (0.42, 0.12)
    )
    axes.annotate(
        "", head, tail, zorder=9,
        arrowprops={"arrowstyle": "-|>", "color": GRAPHITE, "lw": 1.6,
                    "path_effects": casing(3.2)},
    )  # fmt: skip
    axes.annotate(
        "approach", tail, (8.0 * float(way[0]), 8.0 * float(way[1])),
        textcoords="offset points",
        ha="left" if way[0] > 0.3 else "right" if way[0] < -0.3 else "center",
        va="bottom" if way[1] >= 0.0 else "top", color=GRAPHITE, fontsize=8,
        path_effects=casing(2.5), zorder=10,
    )  # fmt: skip


def _inside(
    east_m: float, north_m: float, extent: tuple[float, float, float, float]
) -> bool:
    return extent[0] < east_m < extent[1] and extent[2] < north_m < extent[3]


def _draw_contours(
    axes: Axes, mapping: Mapping, extent: tuple[float, float, float, float]
) -> None:
    terrain = mapping.ground.model.terrain
    side = extent[1] - extent[0]
    step = max(terrain.cell_m, side / 200.0)
    east = np.arange(extent[0], extent[1], step)
    north = np.arange(extent[2], extent[3], step)
    heights = height_m(terrain, *np.meshgrid(east, north)).astype(np.float64)
    known = heights[np.isfinite(heights)]
    if known.size < 4 or np.ptp(known) < 1.0:
        return
    interval = _interval_m(float(np.ptp(known)))
    levels = np.arange(
        np.ceil(known.min() / interval) * interval, known.max(), interval
    )
    axes.contour(
        east, north, heights, levels=levels, colors=GRAPHITE, linewidths=0.35,
        alpha=0.5, zorder=2,
    )  # fmt: skip


def _interval_m(span_m: float) -> float:
    """Return a round interval that draws a dozen contours or so."""
    rough = span_m / 12.0
    tens = 10.0 ** np.floor(np.log10(rough))
    return float(tens * min((1.0, 2.0, 5.0, 10.0), key=lambda x: abs(x - rough / tens)))


def _rings(sheet: FieldSheet, mapping: Mapping) -> list[NDArray[np.float64]]:
    frame = mapping.ground.model.terrain.frame
    return [
        np.column_stack(frame.from_lonlat(*np.array(polygon[0], dtype=float).T[:2]))
        for region in sheet.regions["features"]
        if region["properties"]["probability"] == 0.9
        for polygon in region["geometry"]["coordinates"]
    ]


def view_picture(sheet: FieldSheet, plate: Plate) -> Figure:
    """Return the plate with its pairs marked by numbers, the right way round."""
    grey, _ = plate.reduced(_LONGEST_PX)
    tall = 7.2 * plate.height_px / plate.width_px
    figure = Figure(figsize=(7.2, tall), dpi=_DPI, facecolor=PAPER)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    extent = (0, plate.width_px, plate.height_px, 0)
    axes.imshow(grey, cmap="gray", extent=extent, aspect="auto")
    for number, pair in enumerate(sheet.pairs, start=1):
        x = [pair.near.x_px, pair.far.x_px]
        y = [pair.near.y_px, pair.far.y_px]
        axes.plot(x, y, color=MADDER, lw=1.2, path_effects=casing(2.6))
        axes.plot(x, y, "o", mfc="none", mec=MADDER, ms=9, path_effects=casing(2.6))
        axes.annotate(
            str(number), (x[0], y[0]), (7, 5), textcoords="offset points",
            color=MADDER, fontsize=11, weight="bold", path_effects=casing(3.0),
        )  # fmt: skip
    sides = (0, plate.width_px)
    axes.set_xlim(sides[::-1] if sheet.plate_mirrored else sides)
    axes.set_ylim(plate.height_px, 0)
    axes.set_axis_off()
    return figure
