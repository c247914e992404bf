"""Draw the answer against a proposed position: both horizons over one plate."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from wherestood.errors import InputError
from wherestood.fix.result import Fix, ProposedTold
from wherestood.record.comparison import dress_strip, misfit_px
from wherestood.record.inputs import FixInputs
from wherestood.record.lines import draw_gap_ends, draw_picture, draw_traced, pieces
from wherestood.record.palette import GRAPHITE, IRON_BLUE, MADDER, PENCIL
from wherestood.record.picture import Picture

__all__ = [
    "AGAINST",
    "against",
    "against_figure",
    "can_set_against",
    "save_against",
]

Array = NDArray[np.float64]

WIDTH_IN, DPI = 11.0, 150
LONGEST_PX = 2000
#: The files of these pictures, of which there may be none.
AGAINST, MOST = "against-[1-9].png", 9
TALLEST_SHARE = 0.72  # of the width
RIM = 0.14  # of the plate's height, shown above and below the lines
STRIP_IN, BETWEEN_IN, ROW_IN = 0.95, 0.32, 0.19
LONGEST_NAME = 32
#: Whoever computed it, a horizon is the machine's and broken; two of them are told
#: apart by tone and by dashes against dots.
_OURS: dict[str, Any] = {
    "color": IRON_BLUE,
    "linewidth": 1.7,
    "linestyle": (0, (5, 2.6)),
}
_THEIRS: dict[str, Any] = {
    "color": GRAPHITE, "linewidth": 1.5, "linestyle": (0, (0.1, 2.1)),
    "dash_capstyle": "round",
}  # fmt: skip


def can_set_against(told: ProposedTold) -> bool:
    """Say whether a horizon was computed from near a proposed position."""
    place = told.answer
    return (
        place is not None
        and place.computed_skyline_px is not None
        and bool(np.isfinite(place.computed_skyline_px).all(axis=1).any())
    )


def against(fix: Fix, inputs: FixInputs, told: ProposedTold) -> Picture:
    """Draw the answer against a proposed position.

    Raises
    ------
    InputError
        If there is no known ground there.
    """
    if not can_set_against(told):
        raise InputError(
            f"There is no known ground at the position of {told.proposed.name!r}.",
            "Give terrain that covers it.",
        )
    return Picture(against_figure(fix, inputs, told))


def save_against(fix: Fix, inputs: FixInputs, folder: Path) -> list[str]:
    """Write a picture for each proposed position that can be; return their names."""
    names = []
    for number, told in enumerate(fix.proposed[:MOST], start=1):
        if can_set_against(told):
            names.append(f"against-{number}.png")
            against(fix, inputs, told).save(folder / names[-1])
    return names


def _apart_typically_px(fix: Fix, inputs: FixInputs) -> float:
    """Return the root mean square of traced against computed [px]; NaN without."""
    apart = misfit_px(fix, inputs.skyline)
    known = apart[np.isfinite(apart)]
    return float(np.sqrt(np.mean(known**2))) if known.size else math.nan


def against_figure(
    fix: Fix,
    inputs: FixInputs,
    told: ProposedTold,
    width_in: float = WIDTH_IN,
    dpi: int = DPI,
) -> Figure:
    """Return the plate with the horizons of the answer and of a proposed position.

    Of the plate the part about the lines, over its whole width; below it how far
    either lies from the traced skyline, along the same scale.

    Parameters
    ----------
    fix, inputs : Fix, FixInputs
        The answer, and what it was made from.
    told : ProposedTold
        Of whose answer the best camera is drawn; see `can_set_against`.
    width_in : float
        Width of the whole [in].
    dpi : int
        Dots an inch.
    """
    other = _seen_from(fix, told)
    skyline = inputs.skyline
    top_px, bottom_px = _band_px(fix, other, inputs)
    tall = (bottom_px - top_px) / skyline.width_px
    wide_in = min(width_in - 0.6, TALLEST_SHARE * width_in / tall)
    rows = _key(fix, other, inputs, told.proposed.name)
    foot_in = ROW_IN * len(rows) + 0.14
    strip_in = STRIP_IN + BETWEEN_IN if inputs.has_skyline else 0.0
    height_in = wide_in * tall + strip_in + foot_in + 0.05
    figure = Figure(figsize=(width_in, height_in), dpi=dpi, facecolor="white")
    left = 0.5 / width_in

    def place(bottom_in: float, tall_in: float) -> Axes:
        return figure.add_axes(
            (left, bottom_in / height_in, wide_in / width_in, tall_in / height_in)
        )

    plate = place(foot_in + strip_in, wide_in * tall)
    picture, _ = inputs.plate.reduced(LONGEST_PX)
    draw_picture(plate, picture, skyline)
    draw_traced(plate, skyline)
    for shown, line in ((fix, _OURS), (other, _THEIRS)):
        points = _inside(shown, inputs)
        # No casing: it would hide the traced line, which runs beside it.
        plate.plot(*points.T, zorder=5, **line)
    draw_gap_ends(plate, skyline)
    plate.set_ylim(bottom_px, top_px)
    if inputs.has_skyline:
        _draw_apart(place(foot_in, STRIP_IN), fix, other, inputs)
    figure.legend(
        handles=rows, loc="lower left", bbox_to_anchor=(0.0, 0.0), frameon=False,
        fontsize=8, labelcolor=GRAPHITE, borderaxespad=0.1, labelspacing=0.25,
        handlelength=2.6,
    )  # fmt: skip
    return figure


def _seen_from(fix: Fix, told: ProposedTold) -> Fix:
    """Return a fix whose horizon is that of the best camera near a position."""
    place = told.answer
    assert place is not None
    assert place.computed_skyline_px is not None
    return replace(fix, computed_skyline_px=place.computed_skyline_px)


def _band_px(fix: Fix, other: Fix, inputs: FixInputs) -> tuple[float, float]:
    """Return the top and foot of the part of the plate about the lines."""
    lines = [inputs.skyline.y_px, *(_inside(one, inputs)[:, 1] for one in (fix, other))]
    at_px = np.concatenate(lines)
    at_px = at_px[np.isfinite(at_px)]
    height_px = float(inputs.skyline.height_px)
    if not at_px.size:
        return 0.0, height_px
    rim_px = RIM * height_px
    return (
        max(0.0, float(at_px.min()) - rim_px),
        min(height_px, float(at_px.max()) + rim_px),
    )


def _inside(fix: Fix, inputs: FixInputs) -> Array:
    """Return the horizon with gaps where it leaves the scan."""
    points = fix.computed_skyline_px.copy()
    size = np.array([inputs.skyline.width_px, inputs.skyline.height_px])
    with np.errstate(invalid="ignore"):
        outside = ((points < 0) | (points > size)).any(axis=1)
    points[outside] = np.nan
    return points


def _draw_apart(axes: Axes, fix: Fix, other: Fix, inputs: FixInputs) -> None:
    """Draw how far above (+) or below the traced line both horizons run."""
    skyline = inputs.skyline
    dress_strip(axes, skyline)
    axes.axhline(0.0, color=MADDER, linewidth=1.2)
    reach_px = 4.0
    for shown, line in ((fix, _OURS), (other, _THEIRS)):
        above_px = -misfit_px(shown, skyline)
        known = np.abs(above_px[np.isfinite(above_px)])
        if known.size:
            reach_px = max(reach_px, 1.15 * float(np.percentile(known, 98)))
        for piece in pieces(skyline):
            axes.plot(skyline.x_px[piece], above_px[piece], **line)
    axes.set_ylim(-reach_px, reach_px)
    axes.set_ylabel("px", fontsize=7.5, color=PENCIL, labelpad=1)
    axes.set_title(
        "Computed horizon above (+) or below (\N{MINUS SIGN}) what was traced",
        loc="left", fontsize=8, color=GRAPHITE, pad=3,
    )  # fmt: skip


def _key(fix: Fix, other: Fix, inputs: FixInputs, name: str) -> list[Line2D]:
    shorter = name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"
    rows = [
        Line2D([], [], label=f"horizon from {whose}{_off(shown, inputs)}", **line)
        for whose, shown, line in (
            ("the answer", fix, _OURS),
            (f"near the position of {shorter}", other, _THEIRS),
        )
    ]
    if inputs.has_skyline:
        rows.insert(
            0, Line2D([], [], color=MADDER, linewidth=1.7, label="skyline traced")
        )
    return rows


def _off(fix: Fix, inputs: FixInputs) -> str:
    if not inputs.has_skyline:
        return ""
    apart_px = _apart_typically_px(fix, inputs)
    return f", {apart_px:.2g} px off (typical)" if math.isfinite(apart_px) else ""
