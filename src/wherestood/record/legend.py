"""Write the words beside a picture made for print."""

from __future__ import annotations

import math
import textwrap
from pathlib import PurePath

from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from wherestood.fix.result import Fix
from wherestood.record.changed_ground import changed_ground_key
from wherestood.record.doubt import give_or_take, odds_in_words
from wherestood.record.drawn_evidence import evidence_key
from wherestood.record.drawn_proposed import proposed_key
from wherestood.record.inputs import FixInputs
from wherestood.record.palette import GRAPHITE, IRON_BLUE, MADDER, PENCIL
from wherestood.record.settled import regions_sentence, settled_lines
from wherestood.record.signs import tripod_marker
from wherestood.record.sureness import (
    GIVE_OR_TAKE,
    asked,
    chance_sentence,
    doubled_sentence,
    elsewhere_sentence,
    verdict_in_words,
    within_sentence,
)
from wherestood.record.words import position_in_words
from wherestood.terrain.model import Terrain

__all__ = [
    "LINE_CHARACTERS",
    "LINE_IN",
    "elevation_line",
    "map_key",
    "map_lines",
    "map_words",
    "title",
]

SURFACES = {
    "ground": "bare ground",
    "top": "tops of trees and roofs",
    "unknown": "ground or tree tops",
}
SERIF = "DejaVu Serif"
LINE_CHARACTERS = 165
LINE_IN = 0.165  # from line to line, at 8 pt


def title(
    figure: Figure, words: str, fix: Fix, inputs: FixInputs, more: str = ""
) -> None:
    """Write the head of a picture: what it is, whose plate, what was concluded."""
    left, height_in = 0.055, figure.get_figheight()
    figure.text(
        left,
        1 - 0.42 / height_in,
        words,
        fontsize=15,
        color=GRAPHITE,
        family=SERIF,
    )
    name = PurePath(str(inputs.plate.path)).stem
    parts = (name, verdict_in_words(fix), more)
    figure.text(
        left,
        1 - 0.68 / height_in,
        "  ·  ".join(part for part in parts if part),
        fontsize=9.5,
        color=PENCIL,
    )


def elevation_line(terrain: Terrain) -> str:
    """Name the elevation, its datum and the bending of light, in one line."""
    files = ", ".join(PurePath(source.path).name for source in terrain.sources)
    datums = sorted({source.vertical_datum for source in terrain.sources})
    cell_m = float(f"{terrain.source_cell_m or terrain.cell_m:.3g}")
    cell = f"{cell_m:g} m cells"
    surface = SURFACES[terrain.surface]
    return (
        f"Elevation: {files or 'as given'} ({cell}; {surface}; vertical datum "
        f"{', '.join(datums) or 'unknown'}). k = {terrain.refraction:g}."
    )


def map_key(
    figure: Figure, fix: Fix, inputs: FixInputs, *, left: float, top: float
) -> None:
    """Write the key of a map downwards from a corner, in shares of the figure."""
    line = top
    rows = (
        *_key(fix),
        *proposed_key(fix),
        *evidence_key(fix, inputs),
        *changed_ground_key(inputs),
    )
    for handle, words in rows:
        handle.set_transform(figure.transFigure)
        at = (
            (left, left + 0.028)
            if handle.get_linestyle() != "None"
            else (left + 0.014,)
        )
        handle.set_data(at, [line + 0.005] * len(at))
        figure.add_artist(handle)
        figure.text(left + 0.04, line, words, fontsize=8, color=GRAPHITE)
        line -= 1.15 * LINE_IN / figure.get_figheight()


def map_words(figure: Figure, fix: Fix, inputs: FixInputs) -> None:
    """Write the answer, its doubt and the sources along the foot of a map."""
    step = LINE_IN / figure.get_figheight()
    lines = map_lines(fix, inputs)
    for up, (words, colour) in zip(range(len(lines), 0, -1), lines, strict=True):
        figure.text(0.055, up * step, words, fontsize=7.5, color=colour)


def map_lines(fix: Fix, inputs: FixInputs) -> list[tuple[str, str]]:
    """Return the wrapped lines along a map's foot and their colours."""
    return [
        (words, colour)
        for paragraph, colour in _paragraphs(fix, inputs)
        for words in textwrap.wrap(paragraph, LINE_CHARACTERS)
    ]


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
    other = Line2D(
        [],
        [],
        linestyle="none",
        marker=tripod_marker(45.0),
        markersize=13,
        markeredgewidth=1.1,
        markeredgecolor=IRON_BLUE,
        markerfacecolor="none",
        markevery=[0],
    )
    likeliest = {
        "located": "camera position",
        "several places": "likeliest of the places",
        "not determined": "likeliest place, not an answer",
    }[fix.verdict]
    rows = [
        (sign, likeliest),
        *([(other, "other place, by its number")] if fix.alternatives else []),
        (stroke(MADDER, 1.3), "ground searched"),
        (stroke(IRON_BLUE, 1.7, 4, 1.6), "holds the camera 1 time in 2"),
        (stroke(IRON_BLUE, 1.1, 4, 2.2), "holds the camera 9 times in 10"),
        (dots, "denser where likelier"),
    ]
    near = f"{asked(fix)} round it, as near as was asked"
    rows.append((stroke(PENCIL, 0.9, 1, 2), near))
    return rows


def _paragraphs(fix: Fix, inputs: FixInputs) -> list[tuple[str, str]]:
    camera = fix.camera
    sight = give_or_take(
        camera.sight_bearing_deg % 360,
        camera.sd.get("sight_bearing_deg", math.nan),
        "°",
    )
    answer = " ".join(settled_lines(fix, inputs))
    if fix.verdict == "located":
        place = position_in_words(fix, inputs)
        answer = f"{place}; looks towards {sight}."
    places = "; ".join(
        f"place {number} {odds_in_words(other.probability)}"
        for number, other in enumerate(fix.alternatives, start=2)
    )
    others = f" Others: {places}." if places else ""
    doubt = f"{within_sentence(fix)}{others} {elsewhere_sentence(fix)}"
    regions = regions_sentence(fix, inputs)
    if "give or take" in answer:
        regions = f"{regions} {GIVE_OR_TAKE}"
    tried = f"{chance_sentence(fix)} {doubled_sentence(fix)}"
    rows = [
        *((words.strip(), GRAPHITE) for words in (answer, doubt, regions, tried)),
        (elevation_line(inputs.terrain), PENCIL),
    ]
    return [row for row in rows if row[0]]
