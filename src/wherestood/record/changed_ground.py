"""Say, publish and draw the ground that was otherwise in the plate's years."""

from __future__ import annotations

import json
from typing import Any

import shapely
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from shapely.geometry import MultiPolygon

from wherestood.evidence.items import ChangedGround
from wherestood.evidence.layout import geometry_in_frame
from wherestood.fix.result import ChangedGroundTold, Fix
from wherestood.record.camera_json import LONLAT_DECIMALS
from wherestood.record.inputs import FixInputs
from wherestood.record.palette import MADDER
from wherestood.record.plain import rounded

__all__ = [
    "changed_ground_form",
    "changed_ground_key",
    "changed_ground_lines",
    "draw_changed_ground",
    "leaning_lines",
]

OUTLINE_PT, HATCH_PT = 0.9, 0.35
HATCH = "////"
#: From this share of the width on a fix leans on changed ground.
CONSIDERABLE = 0.05
_DONE = {
    "raise": "raised by {by_m:g} m",
    "lower": "lowered by {by_m:g} m",
    "flatten": "level at {height_m:g} m",
    "cut": "cut to the surface between its edges",
    "flood": "under water at {height_m:g} m",
    "cover": "with trees of {cover_then_m:g} m",
}


def changed_ground_form(fix: Fix, inputs: FixInputs) -> list[dict[str, Any]]:
    """Return the ground that changed in the published form of a fix."""
    told = {one.id: one for one in fix.changed_ground}
    rows = []
    for item in inputs.evidence.changed_ground:
        one = told.get(item.id)
        if one is None:
            continue
        outline = shapely.set_precision(item.geometry, 10.0**-LONLAT_DECIMALS)
        rows.append(
            {
                "id": item.id,
                "change": item.change,
                "done": _done(item),
                "existed_from": item.existed_from or None,
                "existed_to": item.existed_to or None,
                "plate_date": inputs.evidence.date or None,
                "chance": rounded(one.chance, 4),
                "doubtful_because": one.why or None,
                "sd_m": rounded(item.doubt_m, 2),
                "skyline_share": rounded(one.skyline_share, 4),
                "under_station": one.under_station,
                "source": item.source or None,
                "geometry": json.loads(shapely.to_geojson(outline)),
            }
        )
    return rows


def changed_ground_lines(fix: Fix, inputs: FixInputs) -> tuple[str, ...]:
    """Say of each piece of ground how it was taken, and how far that is sure."""
    told = {one.id: one for one in fix.changed_ground}
    lines = []
    for item in inputs.evidence.changed_ground:
        one = told.get(item.id)
        if one is not None:
            lines.append(_sentence(item, one) + _unknown_trees(item, inputs))
    if lines and not inputs.evidence.date:
        lines.append(
            "The plate is not dated: give its date, and the ground of its years is "
            "taken more surely."
        )
    return tuple(lines)


def leaning_lines(fix: Fix) -> tuple[str, ...]:
    """Warn where a fix leans on ground that changed."""
    whose = "view" if fix.verdict == "located" else "view from the likeliest place"
    lines = []
    for one in fix.changed_ground:
        parts = []
        if one.skyline_share >= CONSIDERABLE:
            parts.append(
                f"over {one.skyline_share:.0%} of the {whose} the horizon stands on "
                "it, or would stand on it as it is now"
            )
        if one.under_station:
            parts.append("the camera stands on it")
        if parts:
            lines.append(
                f"Warning: the answer leans on changed ground, {one.id!r}: "
                f"{', and '.join(parts)}."
            )
    return tuple(lines)


def draw_changed_ground(axes: Axes, inputs: FixInputs) -> None:
    """Draw the outlines of changed ground, hatched, on a map in the terrain's frame."""
    for item in inputs.evidence.changed_ground:
        shape = geometry_in_frame(item.geometry, inputs.terrain.frame)
        parts = shape.geoms if isinstance(shape, MultiPolygon) else [shape]
        for polygon in parts:
            rings = [polygon.exterior, *polygon.interiors]
            outline = Path.make_compound_path(
                *(Path(shapely.get_coordinates(ring), closed=True) for ring in rings)
            )
            axes.add_patch(
                PathPatch(
                    outline,
                    fill=False,
                    hatch=HATCH,
                    hatch_linewidth=HATCH_PT,
                    edgecolor=MADDER,
                    linewidth=OUTLINE_PT,
                    zorder=4.5,
                )
            )


def changed_ground_key(inputs: FixInputs) -> list[tuple[Line2D, str]]:
    """Return the key to what `draw_changed_ground` draws."""
    if not inputs.evidence.changed_ground:
        return []
    line = Line2D([], [], color=MADDER, linewidth=OUTLINE_PT)
    return [(line, "hatched: ground that changed")]


def _done(item: ChangedGround) -> str:
    numbers = ("by_m", "height_m", "cover_then_m")
    given = {name: getattr(item, name) for name in numbers}
    return _DONE[item.change].format(
        **{name: value for name, value in given.items() if value is not None}
    )


def _sentence(item: ChangedGround, one: ChangedGroundTold) -> str:
    years = _years(item)
    what = f"{item.id!r} ({_done(item)}{years})"
    because = f" ({one.why})" if one.why else ""
    if one.chance > 0.0 and one.reached == 0:
        return (
            f"{what} changes nothing: no node of the elevation model lies in it. Draw "
            "it wider than a cell."
        )
    if one.chance <= 0.0:
        return f"{what} is left as the elevation model has it{because}."
    if one.chance >= 1.0:
        return f"{what} is taken in full."
    return (
        f"{what} is as likely as {one.chance:.0%}{because}: the ground is taken in "
        "between, and as doubtful as the two differ. Where the horizon stands on "
        "ground that doubtful it counts for less, or for nothing."
    )


def _unknown_trees(item: ChangedGround, inputs: FixInputs) -> str:
    if item.change != "cover" or item.cover_now_m is not None:
        return ""
    if inputs.settings.surface == "ground":
        return ""
    return (
        " How high its trees stood when the elevation model was made is not told "
        "(cover_now_m), and they may be in the model: what stands on it counts for "
        "nothing."
    )


def _years(item: ChangedGround) -> str:
    if item.existed_from and item.existed_to:
        return f", {item.existed_from} to {item.existed_to}"
    if item.existed_from:
        return f", from {item.existed_from}"
    return f", until {item.existed_to}" if item.existed_to else ""
