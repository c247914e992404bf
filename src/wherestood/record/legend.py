"""Write the words beside a picture made for print."""

from __future__ import annotations

import math
import textwrap
from pathlib import PurePath

from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from wherestood.fix.result import Fix
from wherestood.record.doubt import (
    area_in_words,
    coordinates,
    distance_in_words,
    give_or_take,
    odds_in_words,
)
from wherestood.record.inputs import FixInputs
from wherestood.record.palette import GRAPHITE, IRON_BLUE, MADDER, PENCIL
from wherestood.record.signs import tripod_marker
from wherestood.record.words import CONDITION, region_area_m2
from wherestood.terrain.model import Terrain

__all__ = ["elevation_line", "map_words", "title"]

SURFACES = {
    "ground": "bare ground",
    "top": "tops of trees and roofs",
    "unknown": "ground or tree tops",
}
SERIF = "DejaVu Serif"
LINE_CHARACTERS = 62
LINE_HEIGHT = 0.0235  # of the figure's height, at 8 pt


def title(figure: Figure, words: str, fix: Fix, inputs: FixInputs) -> None:
    """Write the head of a picture: what it is, whose plate, what was concluded."""
    left = 0.055
    figure.text(left, 0.945, words, fontsize=15, color=GRAPHITE, family=SERIF)
    name = PurePath(str(inputs.plate.path)).stem
    figure.text(
        left,
        0.912,
        f"{name}  ·  {fix.verdict}",
        fontsize=9.5,
        color=PENCIL,
    )


def elevation_line(terrain: Terrain) -> str:
    """Name the elevation, its datum and the bending of light, in one line."""
    files = ", ".join(PurePath(source.path).name for source in terrain.sources)
    datums = sorted({source.vertical_datum for source in terrain.sources})
    cell = f"{terrain.source_cell_m or terrain.cell_m:.3g} m cells"
    surface = SURFACES[terrain.surface]
    return (
        f"Elevation: {files or 'as given'} ({cell}; {surface}; vertical datum "
        f"{', '.join(datums) or 'unknown'}). k = {terrain.refraction:g}."
    )


def map_words(figure: Figure, fix: Fix, inputs: FixInputs, *, top: float) -> None:
    """Write the key, the doubt and the sources beside a map."""
    left, line = 0.655, top
    for handle, words in _key(fix):
        handle.set_transform(figure.transFigure)
        at = (
            (left, left + 0.028)
            if handle.get_linestyle() != "None"
            else (left + 0.014,)
        )
        handle.set_data(at, [line + 0.006] * len(at))
        figure.add_artist(handle)
        figure.text(left + 0.04, line, words, fontsize=8, color=GRAPHITE)
        line -= LINE_HEIGHT
    line -= 0.4 * LINE_HEIGHT
    for paragraph, colour in _paragraphs(fix, inputs):
        for words in textwrap.wrap(paragraph, LINE_CHARACTERS):
            figure.text(left, line, words, fontsize=7.5, color=colour)
            line -= 0.92 * LINE_HEIGHT
        line -= 0.3 * LINE_HEIGHT


def _key(fix: Fix) -> list[tuple[Line2D, str]]:
    def stroke(colour: str, width_pt: float, *dashes: float) -> Line2D:
        line = Line2D([], [], color=colour, linewidth=width_pt)
        if dashes:
            line.set_linestyle((0, dashes))
        return line

    dots = stroke(IRON_BLUE, 1.6, 0.6, 2.2)
    answered = fix.verdict != "not determined"
    sign = Line2D(
        [],
        [],
        linestyle="none",
        marker=tripod_marker(45.0),
        markersize=15,
        markeredgewidth=1.6 if answered else 0.9,
        markeredgecolor=IRON_BLUE if answered else PENCIL,
        markerfacecolor="none",
        markevery=[0],
    )
    rows = [
        (sign, "camera position" if answered else "likeliest place, not an answer"),
        (stroke(MADDER, 1.3), "ground searched"),
        (stroke(IRON_BLUE, 1.7, 4, 1.6), "holds the camera 1 time in 2"),
        (stroke(IRON_BLUE, 1.1, 4, 2.2), "holds the camera 9 times in 10"),
        (dots, "denser where likelier"),
    ]
    if answered:
        near = f"{fix.near_enough_m:g} m"
        rows.append((stroke(PENCIL, 0.9, 1, 2), f"near enough: {near}"))
    return rows


def _paragraphs(fix: Fix, inputs: FixInputs) -> list[tuple[str, str]]:
    station, camera = fix.station, fix.camera
    sd_m = math.hypot(station.sd_east_m, station.sd_north_m)
    place = coordinates(station.lon_deg, station.lat_deg, sd_m)
    sight = give_or_take(
        camera.sight_bearing_deg % 360,
        camera.sd.get("sight_bearing_deg", math.nan),
        "°",
    )
    odds = odds_in_words(fix.near_enough_share)
    first = f"{place}, give or take {distance_in_words(sd_m)}; looks towards {sight}."
    if fix.verdict == "not determined":
        first = "This skyline does not settle where the camera stood."
    doubt = f"Within near enough: {odds}, {CONDITION}."
    if 0.9 in fix.regions:
        size = area_in_words(region_area_m2(fix.regions[0.9]))
        doubt += f" The region that holds it 9 times in 10: {size}."
    doubt += f" Elsewhere: {odds_in_words(fix.elsewhere)}."
    places = "   ".join(
        f"{number}: {odds_in_words(other.probability)}"
        for number, other in enumerate(fix.alternatives[:5], start=1)
    )
    rows = [(first, GRAPHITE), (doubt, GRAPHITE)]
    if places:
        rows.append((f"Other places  {places}", GRAPHITE))
    rows.append((elevation_line(inputs.terrain), PENCIL))
    return rows
