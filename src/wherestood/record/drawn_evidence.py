"""Draw on a map the features that evidence speaks of, and lines of sight to them."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from wherestood.evidence.dependence import repeats
from wherestood.evidence.items import Evidence, Feature, InLine, Statement
from wherestood.evidence.said import statement_area
from wherestood.fix.result import Fix
from wherestood.record.hillshade import Extent
from wherestood.record.inputs import FixInputs
from wherestood.record.item_words import BLUNDER, blunder_share
from wherestood.record.palette import IRON_BLUE, MADDER, PAPER, STRAW
from wherestood.record.tags import Tag, write_tags

__all__ = ["draw_evidence", "evidence_key"]

SIGHT = (0.9, (0, (3, 2.2)))  # width [pt], dashes
IN_LINE_PT, AREA_PT, SIGN_PT = 1.0, 0.9, 5.0
SAID_DASHES = (0, (7, 1.5, 1.5, 1.5))  # a person's, and no fence


def draw_evidence(
    axes: Axes,
    fix: Fix,
    inputs: FixInputs,
    extent: Extent,
    *,
    near_view: bool = False,
) -> None:
    """Draw statements' areas, in lines, sight lines and features inside a window.

    Sight lines go from the station to the features of marks, straw to that of a
    blunder; none where the station is no answer. Close by, only what stands there
    is named.
    """
    evidence = inputs.evidence
    window = shapely.box(extent[0], extent[2], extent[1], extent[3])
    places = {one.id: _in_frame(one, inputs) for one in evidence.features}
    blunders = {row["id"] for row in fix.evidence if _is_blunder(row)}
    for item in _statements(evidence):
        _draw_said(axes, item, inputs)
    for line in evidence.in_lines:
        colour = STRAW if line.id in blunders else MADDER
        _draw_in_line(axes, line, evidence, places, extent, colour)
    ends: dict[str, tuple[float, float]] = {}
    if fix.verdict != "not determined":
        for row in _marks(fix):
            end = _draw_sight(axes, fix, row, places[row["feature"]], window)
            if end is not None and not near_view:
                ends[row["feature"]] = end
    for name in _shown(evidence):
        at = _draw_feature(axes, places[name], window)
        if at is not None:
            ends[name] = at
    # What lies outside the window is named where its sight line leaves it.
    tags = [Tag(name, at, MADDER) for name, at in ends.items()]
    write_tags(axes, tags, [(fix.station.east_m, fix.station.north_m)])


def evidence_key(fix: Fix, inputs: FixInputs) -> list[tuple[Line2D, str]]:
    """Return the key to what `draw_evidence` draws."""
    evidence = inputs.evidence
    rows: list[tuple[Line2D, str]] = []
    if _shown(evidence):
        sign = Line2D(
            [], [], linestyle="None", marker="s", markersize=SIGN_PT,
            markerfacecolor=PAPER, markeredgecolor=MADDER, markevery=[0],
        )  # fmt: skip
        rows.append((sign, "feature that evidence speaks of"))
    drawn = _marks(fix) if fix.verdict != "not determined" else []
    if any(blunder_share(row) < BLUNDER for row in drawn):
        rows.append((_sight_line(IRON_BLUE), "sight line to a mark's feature"))
    if any(_is_exact(item) for item in evidence.in_lines):
        line = Line2D([], [], color=MADDER, linewidth=IN_LINE_PT)
        rows.append((line, "through two features seen in line"))
    if _statements(evidence):
        area = Line2D([], [], color=MADDER, linewidth=AREA_PT, linestyle=SAID_DASHES)
        rows.append((area, "what a statement means"))
    lines = {item.id for item in evidence.in_lines if _is_exact(item)}
    if any(
        _is_blunder(row) for row in fix.evidence if row in drawn or row["id"] in lines
    ):
        rows.append((_sight_line(STRAW), "straw: likely a blunder"))
    return rows


def _sight_line(colour: str) -> Line2D:
    return Line2D([], [], color=colour, linewidth=SIGHT[0], linestyle=SIGHT[1])


def _marks(fix: Fix) -> list[dict[str, Any]]:
    return [row for row in fix.evidence if row.get("feature") and row["kind"] == "mark"]


def _shown(evidence: Evidence) -> list[str]:
    """Return the ids of features that marks and other items speak of."""
    said = {
        name
        for item in evidence.items()
        if not isinstance(item, Statement)
        for name in item.speaks_of()
    }
    return [feature.id for feature in evidence.features if feature.id in said]


def _statements(evidence: Evidence) -> list[Statement]:
    """Return the statements, those that only repeat others left out."""
    repeated = repeats(evidence)
    return [item for item in evidence.statements if item.id not in repeated]


def _is_blunder(row: dict[str, Any]) -> bool:
    return "blunder_log_odds" in row and blunder_share(row) >= BLUNDER


def _is_exact(item: InLine) -> bool:
    return not item.left_deg and not item.left_widths


def _in_frame(feature: Feature, inputs: FixInputs) -> BaseGeometry:
    frame = inputs.terrain.frame

    def project(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(frame.from_lonlat(points[:, 0], points[:, 1]))

    return shapely.transform(feature.place, project)


def _draw_said(axes: Axes, item: Statement, inputs: FixInputs) -> None:
    feature = inputs.evidence.feature(item.speaks_of()[0])
    terrain = inputs.terrain
    area = statement_area(item, feature, terrain.frame, terrain)
    _outline(axes, area, MADDER, AREA_PT, SAID_DASHES, 5.2)


def _draw_in_line(
    axes: Axes,
    item: InLine,
    evidence: Evidence,
    places: dict[str, BaseGeometry],
    extent: Extent,
    colour: str,
) -> None:
    """Draw the straight line on which two things seen exactly in line lie."""
    ends = [_feature_of(name, evidence) for name in item.speaks_of()]
    if not _is_exact(item) or None in ends:
        return
    first, second = (np.array(places[str(name)].centroid.coords[0]) for name in ends)
    way = second - first
    length_m = float(np.hypot(*way))
    if length_m == 0.0:
        return
    # Long enough to leave the window on either side.
    west, east, south, north = extent
    middle = np.array([(west + east) / 2, (south + north) / 2])
    reach_m = np.hypot(east - west, north - south) + np.hypot(*(first - middle))
    points = np.stack(
        (first - reach_m / length_m * way, first + reach_m / length_m * way)
    )
    axes.plot(*points.T, color=PAPER, linewidth=IN_LINE_PT + 1.4, alpha=0.7, zorder=5.3)
    axes.plot(*points.T, color=colour, linewidth=IN_LINE_PT, zorder=5.4)


def _feature_of(name: str, evidence: Evidence) -> str | None:
    """Return the one feature that a detail is; None where it may be several."""
    for mark in evidence.marks:
        if mark.id == name:
            known = mark.speaks_of()
            return known[0] if len(known) == 1 else None
    return name


def _draw_sight(
    axes: Axes,
    fix: Fix,
    row: dict[str, Any],
    place: BaseGeometry,
    window: BaseGeometry,
) -> tuple[float, float] | None:
    """Draw a sight line and return where it ends in the window."""
    station = (fix.station.east_m, fix.station.north_m)
    colour = STRAW if blunder_share(row) >= BLUNDER else IRON_BLUE
    way = shapely.LineString([station, place.centroid.coords[0]])
    inside = way.intersection(window)
    if inside.is_empty or inside.length == 0.0:
        return None
    points = shapely.get_coordinates(inside)
    width_pt, dashes = SIGHT
    axes.plot(*points.T, color=PAPER, linewidth=width_pt + 0.8, alpha=0.5, zorder=5.5)
    axes.plot(*points.T, color=colour, linewidth=width_pt, linestyle=dashes, zorder=5.6)
    return float(points[-1, 0]), float(points[-1, 1])


def _draw_feature(
    axes: Axes, place: BaseGeometry, window: BaseGeometry
) -> tuple[float, float] | None:
    """Draw a feature's sign and return where; None outside the window."""
    if not place.intersects(window):
        return None
    if place.geom_type != "Point":
        _outline(axes, place, MADDER, AREA_PT, "solid", 5.7)
    at = place.intersection(window).representative_point()
    axes.plot(
        at.x,
        at.y,
        marker="s",
        markersize=SIGN_PT,
        markerfacecolor=PAPER,
        markeredgecolor=MADDER,
        markeredgewidth=1.2,
        zorder=7,
    )
    return at.x, at.y


def _outline(
    axes: Axes,
    shape: BaseGeometry,
    colour: str,
    width_pt: float,
    dashes: Any,
    order: float,
) -> None:
    """Draw the lines of a line or the rims of an area, with a paper casing."""
    whole = shape.boundary if shape.geom_type.endswith("Polygon") else shape
    for part in shapely.get_parts(whole):
        points = shapely.get_coordinates(part)
        axes.plot(*points.T, color=PAPER, linewidth=width_pt + 1.4, alpha=0.7, zorder=3)
        axes.plot(
            *points.T, color=colour, linewidth=width_pt, linestyle=dashes, zorder=order
        )
