"""Join the pieces of a skyline that are evidence into one line."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wherestood.errors import EvidenceError, SkylineError
from wherestood.evidence.items.traced import SkylinePiece
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline
from wherestood.plate.two_tracings import compare_tracings

__all__ = ["joined_skyline", "without_skyline"]

#: A sky that may be painted or printed in may carry an invented line: its standard
#: error over the scan's width then. Common practice.
RETOUCHED_SD_SHARE = 0.01
#: ... and of a line mended beside the computed horizon, which a hand follows. Common
#: practice.
MENDED_SD_SHARE = 0.003


def joined_skyline(pieces: tuple[SkylinePiece, ...]) -> Skyline | None:
    """Return the pieces as one skyline, broken between them; None if there is none.

    Pieces over the same columns are two readers' tracings: the line goes half way, and
    what they differ by is added to its doubt (`wherestood.plate.two_tracings`).

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
        If two pieces run over the same few columns, or three over one.
    """
    if not pieces:
        return None
    first, second = _two_readings([_doubted(piece) for piece in pieces])
    if not second:
        return _one_after_another(first)
    try:
        return compare_tracings(
            _one_after_another(first), _one_after_another(second)
        ).skyline
    except SkylineError as error:
        raise EvidenceError(
            f"Two pieces of skyline both run over column {second[0].x_px[0]:.0f}, and "
            f"are too short to be two readers' tracings. {error.problem}",
            "Cut one of them back.",
        ) from error


def _two_readings(lines: list[Skyline]) -> tuple[list[Skyline], list[Skyline]]:
    """Part lines into two readings of which neither runs over itself."""
    readings: tuple[list[Skyline], list[Skyline]] = ([], [])
    for line in sorted(lines, key=lambda one: one.x_px[0]):
        for reading in readings:
            if not reading or reading[-1].x_px[-1] < line.x_px[0]:
                reading.append(line)
                break
        else:
            raise EvidenceError(
                f"Three pieces of skyline run over column {line.x_px[0]:.0f}; two "
                "readers' tracings can be compared.",
                "Set one of them aside, or cut it back.",
            )
    return readings


def _one_after_another(lines: list[Skyline]) -> Skyline:
    """Return lines from left to right as one, broken between them."""
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
