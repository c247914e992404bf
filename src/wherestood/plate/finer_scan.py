"""Say whether a finer scan of a plate would show more than this one does.

What a scan still tells at its finest is read from the power of its tones by fineness
(cycles to a pixel). Symbols: f fineness; P power there, averaged all round; s the slope
of log P over log f in the finest octave, 1/4 to 1/2 cycle to a pixel.

Pictures of things have P falling about as f^-2 (D. J. Field, Journal of the Optical
Society of America A 4, 1987, from memory); a scanner's blur makes it some steeper.
Where that goes on to the end, what is drawn is finer than the pixels. Where P falls
away much faster, the lens, the plate or the focus ends before the pixels do; where it
is level, grain or noise is all that is left.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from wherestood.plate.scan import Plate

__all__ = ["FinerScan", "fineness_of", "finer_scan"]

Array = NDArray[np.float64]
Verdict = Literal["would show more", "would show only grain", "would show no more"]
#: Side of a window [px], how many are looked at across and down, and how many count.
_SIDE, _ACROSS, _DOWN, _BEST = 256, 6, 4, 8
#: Between these slopes things go on to the end of the scan; judged on invented tones.
_LEVEL, _STEEP = -1.0, -5.5
#: What is drawn ends where power has come down to so many times what is left at last,
#: or to so much of what coarser things foretell.
_OVER_LAST, _FALLEN = 3.0, 0.1


@dataclass(frozen=True)
class FinerScan:
    """Hold what a scan still tells at its finest.

    Attributes
    ----------
    verdict : {"would show more", "would show only grain", "would show no more"}
        Of a finer scan of the same plate.
    slope : float
        Of log power over log fineness in the finest octave.
    finest_px : float
        Width of the finest line that stands out of what is left at last [px]; one
        pixel where things go on to the end.
    """

    verdict: Verdict
    slope: float
    finest_px: float

    def sentence(self, name: str = "the scan") -> str:
        """Return it in words."""
        if self.verdict == "would show more":
            return (
                "A finer scan would show more: what the plate draws goes on to the "
                f"last pixel of {name}."
            )
        ends = f"lines of about {self.finest_px:.1f} px are the finest it draws"
        if self.verdict == "would show only grain":
            return f"A finer scan would show more grain and no more things: {ends}."
        return (
            f"A finer scan would show no more: {ends}, and {name} is finer than that."
        )


def finer_scan(plate: Plate) -> FinerScan | None:
    """Return whether a finer scan would show more; None for a scan too small to tell.

    Parameters
    ----------
    plate : Plate
        Windows all over it are looked at; those with most in them count.
    """
    width, height = plate.width_px, plate.height_px
    if width < 2 * _SIDE or height < 2 * _SIDE:
        return None
    windows = []
    for x in np.linspace(0, width - _SIDE, _ACROSS).astype(int):
        for y in np.linspace(0, height - _SIDE, _DOWN).astype(int):
            windows.append(plate.window(int(x), int(y), _SIDE, _SIDE))
    return fineness_of(np.array(windows, dtype=np.float64))


def fineness_of(windows: Array) -> FinerScan:
    """Return what windows of a scan tell.

    Parameters
    ----------
    windows : (n, side, side) float64 array
        Tones.
    """
    side = windows.shape[1]
    taper = np.hanning(side)
    flat = windows - windows.mean(axis=(1, 2), keepdims=True)
    power = np.abs(np.fft.fft2(flat * taper[:, None] * taper[None, :])) ** 2
    along = np.fft.fftfreq(side)
    fine = np.hypot(*np.meshgrid(along, along))
    edges = np.linspace(0.02, 0.5, 33)
    ring = np.digitize(fine, edges) - 1
    good = (ring >= 0) & (ring < edges.size - 1)
    count = np.bincount(ring[good], minlength=edges.size - 1)
    each = np.array(
        [
            np.bincount(ring[good], one[good], minlength=edges.size - 1) / count
            for one in power
        ]
    )
    middle = 0.5 * (edges[1:] + edges[:-1])
    # Sky and shade tell of noise alone: what has most in it speaks for the plate.
    busy = each[:, (middle > 0.05) & (middle < 0.2)].sum(axis=1)
    chosen = np.argsort(busy)[-_BEST:]
    told = np.median(each[chosen], axis=0) + 1e-12
    last = middle > 0.25
    slope = float(np.polyfit(np.log(middle[last]), np.log(told[last]), 1)[0])
    # Things end where noise drowns them, or where they fall short of what coarser ones
    # foretell, by a power law through these.
    coarse = (middle > 0.025) & (middle < 0.11)
    law = np.polyfit(np.log(middle[coarse]), np.log(told[coarse]), 1)
    foretold = np.exp(np.polyval(law, np.log(middle)))
    left = float(np.median(told[middle > 0.44]))
    drowned = slope > _LEVEL
    there = told > (_OVER_LAST * left if drowned else _FALLEN * foretold)
    ends = np.flatnonzero(~there & ~coarse & (middle > 0.15))
    end = middle[ends[0]] if ends.size else 0.5
    finest_px = max(1.0 / (2.0 * float(end)), 1.0)
    if slope < _STEEP:
        return FinerScan("would show no more", slope, finest_px)
    if drowned:
        return FinerScan("would show only grain", slope, finest_px)
    return FinerScan("would show more", slope, 1.0)
