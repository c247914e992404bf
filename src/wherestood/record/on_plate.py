"""Draw features of the map over the plate, and write where they lie on it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure

from wherestood.errors import InputError
from wherestood.ground.mapping import Mapping
from wherestood.ground.on_plate import ShownPiece
from wherestood.plate.scan import Plate
from wherestood.record.atomic import folder_at_the_end, write_text_atomically
from wherestood.record.palette import GRAPHITE, IRON_BLUE, PAPER
from wherestood.record.signs import casing

__all__ = ["on_plate_figure", "shown_form", "write_on_plate"]

Shown = Sequence[tuple[str, Sequence[ShownPiece]]]
_WIDTH_IN, _DPI, _LONGEST_PX = 11.0, 150, 1600


def shown_form(mapping: Mapping, shown: Shown) -> dict[str, Any]:
    """Return where features lie on the plate as JSON can hold it."""
    return {
        "width_px": mapping.scan_px[0],
        "height_px": mapping.scan_px[1],
        "caution": mapping.caution(),
        "features": [
            {
                "name": name,
                "pieces": [
                    {
                        "seen": piece.seen,
                        "chance": round(piece.chance, 3),
                        "sd_px": round(piece.sd_px, 1),
                        "points_px": piece.points_px.round(1).tolist(),
                    }
                    for piece in pieces
                ],
            }
            for name, pieces in shown
        ],
    }


def on_plate_figure(plate: Plate, mapping: Mapping, shown: Shown) -> Figure:
    """Return the plate with features over it: hidden parts dotted, doubt as width."""
    grey, _ = plate.reduced(_LONGEST_PX)
    width, height = mapping.scan_px
    tall = _WIDTH_IN * height / width
    foot = 0.55
    figure = Figure(figsize=(_WIDTH_IN, tall + foot), dpi=_DPI, facecolor=PAPER)
    axes = figure.add_axes((0.0, foot / (tall + foot), 1.0, tall / (tall + foot)))
    axes.imshow(grey, cmap="gray", extent=(0, width, height, 0), aspect="auto")
    points_per_px = 72.0 * _WIDTH_IN / width
    for name, pieces in shown:
        for piece in pieces:
            _draw(axes, piece, points_per_px)
        if pieces:
            first = max(pieces, key=lambda one: (one.seen, len(one.points_px)))
            x, y = first.points_px[len(first.points_px) // 2]
            axes.annotate(
                name, (x, y), (4, 4), textcoords="offset points", color=GRAPHITE,
                fontsize=8, path_effects=casing(2.0), annotation_clip=True,
            )  # fmt: skip
    axes.set_xlim(0, width)
    axes.set_ylim(height, 0)
    axes.set_axis_off()
    words = (
        "Dashed: in sight. Dotted: hidden by ground before it. The band is how far it "
        "may lie to either side, 2 times in 3."
    )
    figure.text(0.01, 0.012, words, fontsize=8, color=GRAPHITE, va="bottom")
    if mapping.caution():
        figure.text(
            0.01, 0.03 + 0.1 / (tall + foot), mapping.caution(), fontsize=8,
            color=GRAPHITE, va="bottom", weight="bold",
        )  # fmt: skip
    return figure


def _draw(axes: Any, piece: ShownPiece, points_per_px: float) -> None:
    x, y = piece.points_px.T
    if len(x) == 1:
        axes.plot(
            x, y, marker="o", ms=6, mfc="none" if not piece.seen else IRON_BLUE,
            mec=IRON_BLUE, path_effects=casing(2.0),
        )  # fmt: skip
        return
    band = 2.0 * piece.sd_px * points_per_px
    axes.plot(x, y, color=IRON_BLUE, lw=band, alpha=0.22, solid_capstyle="butt")
    axes.plot(
        x, y, color=IRON_BLUE, lw=1.4, ls=(0, (5, 2)) if piece.seen else (0, (1, 2.5)),
        path_effects=casing(2.4),
    )  # fmt: skip


def write_on_plate(
    folder: Path, mapping: Mapping, shown: Shown, scan: Path | None
) -> list[Path]:
    """Write ``on-plate.json``, and ``on-plate.png`` where the scan is given.

    Raises
    ------
    InputError
        If the scan is not of the size that the fix was made with.
    """
    plate = Plate.open(scan) if scan is not None else None
    if plate is not None and (plate.width_px, plate.height_px) != mapping.scan_px:
        raise InputError(
            f"The scan is {plate.width_px} x {plate.height_px} px, and the fix was "
            f"made with one of {mapping.scan_px[0]} x {mapping.scan_px[1]} px.",
            "Name the scan that the fix was made with.",
        )
    names = ["on-plate.json"]
    with folder_at_the_end(folder, "on-plate.png") as passing:
        text = json.dumps(shown_form(mapping, shown), indent=1, allow_nan=False)
        write_text_atomically(passing / "on-plate.json", text + "\n")
        if plate is not None:
            figure = on_plate_figure(plate, mapping, shown)
            figure.savefig(passing / "on-plate.png")
            names.append("on-plate.png")
    return [folder / name for name in names]
