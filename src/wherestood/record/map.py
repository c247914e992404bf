"""Draw the answer on a map."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import PurePath

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, PathPatch
from matplotlib.path import Path
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from wherestood.earth.frame import Frame
from wherestood.fix.result import Fix, StationAnswer
from wherestood.record.changed_ground import draw_changed_ground
from wherestood.record.drawn_evidence import draw_evidence
from wherestood.record.drawn_proposed import draw_proposed
from wherestood.record.hillshade import Extent, draw_ground
from wherestood.record.inputs import FixInputs
from wherestood.record.legend import LINE_IN, map_key, map_lines, map_words, title
from wherestood.record.map_extents import (
    bounds,
    close_extent,
    inside,
    square_about,
)
from wherestood.record.palette import (
    GRAPHITE,
    IRON_BLUE,
    MADDER,
    PAPER,
    PENCIL,
)
from wherestood.record.settled import in_frame
from wherestood.record.sighting import edge_bearings_deg
from wherestood.record.signs import (
    casing,
    draw_north,
    draw_scale_bar,
    draw_tripod,
    draw_wedge,
)

__all__ = ["CLOSE_SHARE", "frame_ticks", "map_figure", "map_panel", "outline_close"]

DPI = 150
WIDTH_IN = 11.0
WHOLE_IN, CLOSE_IN = 6.0, 3.55  # sides of the two maps
HEAD_IN, TICKS_IN = 0.85, 0.3
DOTS = 900
DOT_SEED = 1  # the dots are a drawing, the same each time
CLOSE_SHARE = 0.35  # a close view covers at most this much of the whole's width
MOST_PLACES = 9
REGION_LINES = {0.9: (1.1, (4, 2.2)), 0.5: (1.7, (4, 1.6))}  # width [pt], dashes


def map_figure(
    fix: Fix, inputs: FixInputs, beside: Sequence[tuple[Fix, FixInputs]] = ()
) -> Figure:
    """Return the map of a fix: the whole ground searched, and the place close by.

    Parameters
    ----------
    fix : Fix
        The answer.
    inputs : FixInputs
        What it was made from.
    beside : sequence of (Fix, FixInputs)
        The same of the other plates of a panorama, whose views are drawn too.

    Returns
    -------
    Figure
        Drawn in the terrain's own grid; north is true north.
    """
    frame = inputs.terrain.frame
    regions = {p: in_frame(r, frame) for p, r in fix.regions.items()}
    ground = inputs.area.in_frame(frame)
    whole = square_about(bounds(ground, fix, regions, frame), 0.11)
    close = close_extent(fix, regions, CLOSE_SHARE * (whole[1] - whole[0]))
    foot_in = LINE_IN * len(map_lines(fix, inputs)) + 0.25
    height_in = HEAD_IN + WHOLE_IN + TICKS_IN + foot_in
    figure = Figure(figsize=(WIDTH_IN, height_in), dpi=DPI, facecolor=PAPER)
    names = ", ".join(PurePath(str(one.plate.path)).stem for _, one in beside)
    more = f"with {names}" if names else ""
    title(figure, "Where the camera stood", fix, inputs, more)

    def square(left: float, side_in: float, down_in: float = 0.0) -> Axes:
        bottom = 1 - (HEAD_IN + down_in + side_in) / height_in
        return figure.add_axes((left, bottom, side_in / WIDTH_IN, side_in / height_in))

    overview = square(0.055, WHOLE_IN)
    map_panel(overview, fix, inputs, regions, ground, whole, enlarged=close)
    for other, own in beside:
        _draw_view(overview, other, own, whole)
    frame_ticks(overview, frame)
    down_in = 0.05
    if close is not None:
        near = square(0.655, CLOSE_IN, 0.2)
        map_panel(near, fix, inputs, regions, ground, close, near_view=True)
        for other, own in beside:
            _draw_view(near, other, own, close)
        near.set_title(_close_title(fix), loc="left", fontsize=8, color=GRAPHITE, pad=4)
        outline_close(overview, close)
        down_in = CLOSE_IN + 0.5
    map_key(figure, fix, inputs, left=0.655, top=1 - (HEAD_IN + down_in) / height_in)
    map_words(figure, fix, inputs)
    return figure


def _close_title(fix: Fix) -> str:
    return "Closer" if fix.verdict == "located" else "The likeliest place, closer"


def map_panel(
    axes: Axes,
    fix: Fix,
    inputs: FixInputs,
    regions: dict[float, MultiPolygon],
    ground: Polygon | MultiPolygon,
    extent: Extent,
    *,
    near_view: bool = False,
    enlarged: Extent | None = None,
) -> None:
    """Draw one window of the map; what is enlarged elsewhere is not crowded here."""
    axes.set_facecolor(PAPER)
    axes.set_autoscale_on(False)
    draw_ground(axes, inputs.terrain, extent)
    axes.set(xlim=extent[:2], ylim=extent[2:], aspect="equal", xticks=[], yticks=[])
    for side in axes.spines.values():
        side.set(color=PENCIL, linewidth=0.8)
    _draw_shape(axes, ground, MADDER, 1.3, None)
    draw_changed_ground(axes, inputs)
    _draw_dots(axes, fix.cells, extent)
    for probability, (width_pt, dashes) in REGION_LINES.items():
        if probability in regions:
            _draw_shape(axes, regions[probability], IRON_BLUE, width_pt, dashes)
    draw_evidence(axes, fix, inputs, extent, near_view=near_view)
    _draw_rivals(axes, fix, extent, enlarged)
    draw_proposed(axes, fix, inputs, extent)
    _draw_station(axes, fix, inputs, extent, near_view=near_view)
    draw_scale_bar(axes)
    convergence_deg = inputs.terrain.frame.convergence_deg(
        fix.station.lon_deg, fix.station.lat_deg
    )
    draw_north(axes, convergence_deg)


def _draw_rivals(axes: Axes, fix: Fix, extent: Extent, enlarged: Extent | None) -> None:
    """Draw the other places, numbered from 2; the likeliest is 1."""
    shown = False
    for number, other in enumerate(fix.alternatives[:MOST_PLACES], start=2):
        place = other.station
        at = (place.east_m, place.north_m)
        if not inside(*at, extent) or (enlarged and inside(*at, enlarged)):
            continue
        shown = True
        draw_tripod(
            axes,
            place.east_m,
            place.north_m,
            other.camera.grid_bearing_deg,
            width_pt=1.1,
            size_pt=13.0,
        )
        _write_number(axes, number, place)
    if shown:
        _write_number(axes, 1, fix.station)


def _draw_station(
    axes: Axes, fix: Fix, inputs: FixInputs, extent: Extent, *, near_view: bool
) -> None:
    """Draw the likeliest station: its view if it is an answer, the circle asked."""
    station, camera = fix.station, fix.camera
    answered = fix.verdict != "not determined"
    _draw_view(axes, fix, inputs, extent)
    if near_view:
        axes.add_patch(
            Circle(
                (station.east_m, station.north_m),
                fix.near_enough_m,
                fill=False,
                edgecolor=PENCIL,
                linewidth=0.9,
                linestyle=(0, (1, 2)),
                zorder=5,
            )
        )
    draw_tripod(
        axes,
        station.east_m,
        station.north_m,
        camera.grid_bearing_deg,
        colour=IRON_BLUE if answered else PENCIL,
        width_pt=2.2 if answered else 1.1,
    )


def _draw_view(axes: Axes, fix: Fix, inputs: FixInputs, extent: Extent) -> None:
    """Draw how far to either side a plate sees, if the place is an answer."""
    if fix.verdict == "not determined":
        return
    station, camera = fix.station, fix.camera
    to_grid_deg = camera.grid_bearing_deg - camera.bearing_deg
    left, right = edge_bearings_deg(camera, *inputs.plate_px)
    draw_wedge(
        axes,
        station.east_m,
        station.north_m,
        (left + to_grid_deg, right + to_grid_deg),
        0.45 * (extent[1] - extent[0]),
    )


def _write_number(axes: Axes, number: int, place: StationAnswer) -> None:
    axes.annotate(
        str(number),
        (place.east_m, place.north_m),
        (11, -11),
        textcoords="offset points",
        ha="center",
        va="center",
        fontsize=9,
        color=IRON_BLUE,
        zorder=10,
        path_effects=casing(2.5),
    )


def _draw_dots(axes: Axes, cells: NDArray[np.float64], extent: Extent) -> None:
    """Draw fine dots, denser where the camera likelier stood.

    The number of dots follows the probability inside the window, so that a
    close view is as readable as the whole.
    """
    if cells.size == 0:
        return
    east, north = cells[:, 0], cells[:, 1]
    shown = cells[
        (east > extent[0])
        & (east < extent[1])
        & (north > extent[2])
        & (north < extent[3])
    ]
    mass = shown[:, 3].sum() if len(shown) else 0.0
    if mass <= 0:
        return
    generator = np.random.default_rng(DOT_SEED)
    picked = generator.choice(len(shown), DOTS, p=shown[:, 3] / mass)
    offset = generator.uniform(-0.5, 0.5, (DOTS, 2)) * shown[picked, 2:3]
    points = shown[picked, :2] + offset
    axes.plot(
        points[:, 0],
        points[:, 1],
        linestyle="none",
        marker=".",
        markersize=1.5,
        markeredgewidth=0,
        color=IRON_BLUE,
        alpha=0.8,
        zorder=4,
    )


def _draw_shape(
    axes: Axes,
    shape: Polygon | MultiPolygon,
    colour: str,
    width_pt: float,
    dashes: tuple[float, float] | None,
) -> None:
    """Draw the outline of a shape, with a thin paper casing."""
    for polygon in getattr(shape, "geoms", [shape]):
        if polygon.is_empty:
            continue
        rings = [polygon.exterior, *polygon.interiors]
        outline = Path.make_compound_path(
            *(Path(np.asarray(ring.coords)[:, :2], closed=True) for ring in rings)
        )
        for line_colour, line_pt, style, order in (
            (PAPER, width_pt + 1.4, "solid", 3.0),
            (colour, width_pt, (0, dashes) if dashes else "solid", 5.0),
        ):
            axes.add_patch(
                PathPatch(
                    outline,
                    fill=False,
                    edgecolor=line_colour,
                    linewidth=line_pt,
                    linestyle=style,
                    alpha=1.0 if line_colour == colour else 0.7,
                    zorder=order,
                )
            )


def outline_close(axes: Axes, extent: Extent) -> None:
    """Show on the whole map what the close view covers."""
    west, east, south, north = extent
    axes.plot(
        [west, east, east, west, west],
        [south, south, north, north, south],
        color=PENCIL,
        linewidth=0.8,
        zorder=5,
    )


def frame_ticks(axes: Axes, frame: Frame) -> None:
    """Mark longitude along the foot and latitude up the side."""
    west, east = axes.get_xlim()
    south, north = axes.get_ylim()
    along_m, up_m = np.linspace(west, east, 101), np.linspace(south, north, 101)
    lon, _ = frame.to_lonlat(along_m, np.full(101, south))
    _, lat = frame.to_lonlat(np.full(101, west), up_m)
    lon_values, decimals = _round_values(lon)
    axes.set_xticks(np.interp(lon_values, lon, along_m))
    axes.set_xticklabels(
        [f"{abs(v):.{decimals}f}° {'E' if v >= 0 else 'W'}" for v in lon_values]
    )
    lat_values, decimals = _round_values(lat)
    axes.set_yticks(np.interp(lat_values, lat, up_m))
    axes.set_yticklabels(
        [f"{abs(v):.{decimals}f}° {'N' if v >= 0 else 'S'}" for v in lat_values],
        rotation=90,
        va="center",
    )
    axes.tick_params(
        colors=PENCIL, labelsize=7.5, length=5, direction="in", top=True, right=True
    )


def _round_values(values: NDArray[np.float64]) -> tuple[NDArray[np.float64], int]:
    """Return about four round values inside a range, and their decimals."""
    low, high = float(np.min(values)), float(np.max(values))
    power = 10.0 ** math.floor(math.log10((high - low) / 2.5))
    step = max(s * power for s in (1, 2, 5) if s * power <= (high - low) / 2.5)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    first = math.ceil(low / step)
    found = np.arange(first, math.floor(high / step) + 1, dtype=np.float64) * step
    return found, decimals
