"""Draw upright edges, waters and known sizes on a plate."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from wherestood.evidence.items import (
    Evidence,
    KnownSize,
    PlumbEdge,
    SeaHorizon,
    WaterLevel,
)
from wherestood.fix.result import Fix
from wherestood.record.drawn_marks import DASHES, LINE_PT
from wherestood.record.inputs import FixInputs
from wherestood.record.item_words import BLUNDER, blunder_share, short_name
from wherestood.record.palette import IRON_BLUE, MADDER, PAPER, STRAW
from wherestood.record.tags import Tag, write_tags

__all__ = ["draw_items", "item_key"]

Shown = PlumbEdge | WaterLevel | SeaHorizon | KnownSize

SET_PT, DOT_PT = 1.6, 4.0
#: Markers at the ends of what is drawn, by kind.
_ENDS = {
    PlumbEdge: ".",
    KnownSize: "D",
    WaterLevel: "s",
    SeaHorizon: "s",
}
_NAMES = {
    PlumbEdge: "upright edge",
    KnownSize: "known size",
    WaterLevel: "water's edge",
    SeaHorizon: "sea horizon",
}


def draw_items(axes: Axes, fix: Fix, inputs: FixInputs) -> None:
    """Draw each item where a person set it, and dashed where it should show.

    A blunder is straw. What a camera shows of an upright edge stands through its
    middle; of a water it lies as far off as its points do on average. A known size
    has a length to be compared, and no place.
    """
    told = {row["id"]: row for row in fix.evidence}
    tags = []
    for item in _shown(inputs.evidence):
        row = told.get(item.id)
        blunder = _is_blunder(row)
        colour = STRAW if blunder else MADDER
        points = np.array(item.points_px)
        if len(points) > 1 and row is not None:
            there = _there(item, points, row)
            if there is not None:
                _draw_line(axes, there, IRON_BLUE, LINE_PT, DASHES)
        _draw_line(axes, points, colour, SET_PT, marker=_ENDS[type(item)])
        name = short_name({"id": item.id, "kind": item.kind})
        if name == item.id:  # a made one is no more than its place on the plate
            tags.append(Tag(name, tuple(points[0]), colour, blunder))
    write_tags(axes, tags)


def item_key(fix: Fix, inputs: FixInputs) -> list[Line2D]:
    """Return the key to what `draw_items` draws; empty if it draws nothing."""
    items = list(_shown(inputs.evidence))
    told = {row["id"]: row for row in fix.evidence}
    kinds = dict.fromkeys(type(item) for item in items)
    rows = [_signed(_ENDS[kind], MADDER, _NAMES[kind]) for kind in kinds]
    if any(_is_blunder(told.get(item.id)) for item in items):
        rows.append(_signed("", STRAW, "one that is likely a blunder"))
    if any(
        _there(item, np.array(item.points_px), told[item.id]) is not None
        for item in items
        if item.id in told and len(item.points_px) > 1
    ):
        rows.append(
            Line2D(
                [],
                [],
                color=IRON_BLUE,
                linewidth=LINE_PT,
                linestyle=DASHES,
                label="where it should show",
            )
        )
    return rows


def _shown(evidence: Evidence) -> tuple[Shown, ...]:
    return (
        *evidence.plumb_edges,
        *evidence.water_levels,
        *evidence.sea_horizons,
        *evidence.known_sizes,
    )


def _is_blunder(row: dict[str, Any] | None) -> bool:
    return (
        row is not None and "blunder_log_odds" in row and blunder_share(row) >= BLUNDER
    )


def _there(
    item: Shown, points: np.ndarray[Any, np.dtype[np.float64]], row: dict[str, Any]
) -> np.ndarray[Any, np.dtype[np.float64]] | None:
    """Return where an item should show; None for what has no place."""
    if isinstance(item, PlumbEdge) and row.get("residual_deg") is not None:
        turn = math.radians(row["residual_deg"])
        if points[0, 1] == points[1, 1]:
            return None
        middle = points.mean(axis=0)
        # It leans to the right by so much too much: turned back, y being down.
        back = np.array(
            [[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]]
        )
        return np.asarray(middle + (points - middle) @ back)
    if isinstance(item, WaterLevel | SeaHorizon) and row.get("residual_px"):
        return np.asarray(points - np.array(row["residual_px"]))
    return None


def _draw_line(
    axes: Axes,
    points: np.ndarray[Any, np.dtype[np.float64]],
    colour: str,
    width_pt: float,
    dashes: Any = "-",
    marker: str = "",
) -> None:
    x, y = points.T
    axes.plot(x, y, color=PAPER, linewidth=width_pt + 1.6, zorder=6.8, alpha=0.8)
    axes.plot(
        x,
        y,
        color=colour,
        linewidth=width_pt,
        linestyle=dashes,
        marker=marker or None,
        markersize=DOT_PT,
        zorder=6.9,
    )


def _signed(marker: str, colour: str, label: str) -> Line2D:
    return Line2D(
        [],
        [],
        color=colour,
        linewidth=SET_PT,
        marker=marker or None,
        markersize=DOT_PT,
        label=label,
    )
