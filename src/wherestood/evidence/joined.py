"""Join the pieces of a skyline that are evidence into one line."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from wherestood.errors import EvidenceError
from wherestood.evidence.items.traced import SkylinePiece
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline

__all__ = ["joined_skyline", "without_skyline"]

#: A sky that may be painted or printed in may carry an invented line: its standard
#: error over the scan's width then. Common practice.
RETOUCHED_SD_SHARE = 0.01
#: ... and of a line mended beside the computed horizon, which a hand follows. Common
#: practice.
MENDED_SD_SHARE = 0.003


def joined_skyline(pieces: tuple[SkylinePiece, ...]) -> Skyline | None:
    """Return the pieces as one skyline, broken between them; None if there is none.

    Parameters
    ----------
    pieces : tuple of SkylinePiece
        In any order. A piece that may be retouched gets the standard error of
        one; so does a piece mended with sight of the computed horizon, which is then
        no witness of its own; a piece that is trusted little, one that grows with the
        distrust.

    Raises
    ------
    EvidenceError
        If two pieces run over the same columns.
    """
    if not pieces:
        return None
    lines = sorted((_doubted(piece) for piece in pieces), key=lambda one: one.x_px[0])
    for before, after in pairwise(lines):
        if after.x_px[0] <= before.x_px[-1]:
            raise EvidenceError(
                f"Two pieces of skyline both run over column {after.x_px[0]:.0f}.",
                "Cut one of them back.",
            )
    broken = np.concatenate(
        [np.append(line.break_after[:-1], True) for line in lines]
    ).astype(bool)
    broken[-1] = False
    return replace(
        lines[0],
        x_px=np.concatenate([line.x_px for line in lines]),
        y_px=np.concatenate([line.y_px for line in lines]),
        sd_px=np.concatenate([line.sd_px for line in lines]),
        break_after=broken,
    )


def without_skyline(plate: Plate) -> Skyline:
    """Return a skyline of no points, for records of a plate that shows none."""
    nothing = np.zeros(0)
    return Skyline(
        nothing,
        nothing,
        nothing,
        plate.width_px,
        plate.height_px,
        np.zeros(0, dtype=bool),
        source="none",
    )


def _doubted(piece: SkylinePiece) -> Skyline:
    line = piece.line
    extra = RETOUCHED_SD_SHARE * line.width_px if piece.retouched else 0.0
    if not (piece.traced_blind and line.blind):
        extra = np.hypot(extra, MENDED_SD_SHARE * line.width_px)
    # Less trusted than usual: the error of a line that is wrong as often.
    distrust = max(0.0, 1.0 - piece.trust - 0.05)
    extra = np.hypot(extra, distrust * RETOUCHED_SD_SHARE * line.width_px)
    return replace(line, sd_px=np.hypot(line.sd_px, extra))
