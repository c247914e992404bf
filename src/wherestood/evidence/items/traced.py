"""Hold lines traced on the scan: pieces of skyline, ridges before it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from wherestood.errors import EvidenceError
from wherestood.evidence.items.item import Item
from wherestood.plate.skyline import Skyline

__all__ = ["RidgeLine", "SkylinePiece", "line_through"]

#: A line drawn by hand is sampled at so many places across the scan.
SAMPLES_ACROSS = 1000


@dataclass(frozen=True)
class SkylinePiece(Item):
    """Be a piece of the skyline, with its own trust.

    Attributes
    ----------
    line : Skyline
        The traced boundary of land and sky.
    retouched : bool
        Whether the sky may be painted or printed in, and the line with it.
    """

    kind: ClassVar[str] = "skyline"

    line: Skyline
    retouched: bool = False

    def __post_init__(self) -> None:
        """Give it a name, and refuse what cannot be."""
        _name_after(self, self.line)
        super().__post_init__()


@dataclass(frozen=True)
class RidgeLine(Item):
    """Be a ridge seen before farther ground, below the skyline.

    Attributes
    ----------
    line : Skyline
        The traced edge, below the skyline.
    """

    kind: ClassVar[str] = "ridge line"

    line: Skyline

    def __post_init__(self) -> None:
        """Give it a name, and refuse what cannot be."""
        _name_after(self, self.line)
        super().__post_init__()


def line_through(
    points_px: tuple[tuple[float, float], ...],
    sd_px: float,
    width_px: int,
    height_px: int,
) -> Skyline:
    """Return the line through points that a person set by hand.

    Parameters
    ----------
    points_px : (x, y) each
        Two or more, x rising [px].
    sd_px : float
        Standard error of the line, up and down [px].
    width_px, height_px : int
        Size of the scan [px].

    Raises
    ------
    EvidenceError
        If there are too few points, x does not rise, or a point lies outside.
    """
    points = np.asarray(points_px, dtype=np.float64)
    if points.ndim != 2 or points.shape[0] < 2 or points.shape[1] != 2:
        raise EvidenceError(
            "a line has fewer than two points.", "Mark it.", field="points_px"
        )
    x, y = points.T
    if not np.all(np.diff(x) > 0.0):
        raise EvidenceError(
            "x of the line's points does not rise.",
            "Give them from left to right.",
            field="points_px",
        )
    outside = ~((x >= 0.0) & (x <= width_px) & (y >= 0.0) & (y <= height_px))
    if outside.any():
        at = points[outside][0]
        raise EvidenceError(
            f"its point ({at[0]:g}, {at[1]:g}) lies outside the scan of {width_px} x "
            f"{height_px} px.",
            "Give pixels of this scan, upright, from its top-left corner.",
            field="points_px",
        )
    step_px = width_px / SAMPLES_ACROSS
    count = max(2, round(float(x[-1] - x[0]) / step_px) + 1)
    every = np.linspace(x[0], x[-1], count)
    return Skyline(
        x_px=every,
        y_px=np.interp(every, x, y),
        sd_px=np.full(count, sd_px),
        width_px=width_px,
        height_px=height_px,
        break_after=np.zeros(count, dtype=bool),
        source="points",
    )


def _name_after(item: Item, line: Skyline) -> None:
    if not item.id:
        object.__setattr__(item, "id", f"{item.kind}: {line.source}")
