"""Find what stands upright against the sky."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from wherestood.plate.line_tones import LineTones

__all__ = ["SIDE_SHARE", "upright_columns"]

Line = NDArray[np.float64]
Mask = NDArray[np.bool_]

# Slopes of hills seldom pass 60 degrees for long; walls and trunks stand upright.
STEEP = 3.0
CLIFF_SHARE = 0.008  # of the width: lower steps are dust, crags or far trees
SIDE_SHARE = 0.015
BACK_DOWN = 0.85
HALF_AS_TALL = 0.5
LONGEST_FALL_SHARE = 0.15
WIDEST_IN_HEIGHTS = 12.0  # a house shows less wall than that beside its roof
CLEAR_TONES = 0.06
LONG_SIDES = 3
RIM_SHARE = 0.03


@dataclass(frozen=True)
class _Cliff:
    """Hold a steep step of the line; it climbs to the right if `climbs`."""

    first: int
    last: int
    climbs: bool
    base: float
    top: float


def _cliffs(line: Line) -> list[_Cliff]:
    slope = np.zeros(line.size)
    slope[1:-1] = (line[2:] - line[:-2]) / 2.0
    found = []
    for sign in (-1, 1):
        steep = sign * slope >= STEEP
        labels, count = ndimage.label(ndimage.binary_closing(steep, iterations=2))
        for number in range(1, count + 1):
            columns = np.flatnonzero(labels == number)
            first = max(int(columns[0]) - 1, 0)
            last = min(int(columns[-1]) + 1, line.size - 1)
            ends = line[first], line[last]
            if max(ends) - min(ends) >= CLIFF_SHARE * line.size:
                found.append(_Cliff(first, last, sign < 0, max(ends), min(ends)))
    return sorted(found, key=lambda cliff: cliff.first)


def upright_columns(line: Line, tones: LineTones, weak: Mask) -> Mask:
    """Mark the side of each cliff of the line that is no part of the skyline.

    Parameters
    ----------
    line : (width,) float64 array
        The traced line [px].
    tones : LineTones
        Tones beside it.
    weak : (width,) bool array
        Columns already doubted.

    Returns
    -------
    (width,) bool array

    Notes
    -----
    That is the upper side, unless no sky lies above the line on the lower one:
    there the line has fallen through dark land.
    """
    marked = np.zeros(line.size, bool)
    longest_fall = LONGEST_FALL_SHARE * line.size
    cliffs = _cliffs(line)
    turned = [_turned(cliff, line.size) for cliff in cliffs][::-1]
    ahead = _Walk(line, tones, weak, cliffs)
    back = _Walk(line[::-1], tones.turned(), weak[::-1], turned)
    for cliff, mirror in zip(cliffs, turned[::-1], strict=True):
        marked[cliff.first : cliff.last + 1] = True
        upper_ahead = cliff.climbs
        fallen = (ahead if upper_ahead else back).fallen(
            cliff if upper_ahead else mirror
        )
        lower = (back, mirror) if upper_ahead else (ahead, cliff)
        fallen = fallen and lower[0].end(lower[1], True) - lower[1].last < longest_fall
        if upper_ahead != fallen:
            marked[cliff.last : ahead.end(cliff, fallen)] = True
        else:
            end = back.end(mirror, fallen)
            marked[line.size - end : cliff.first + 1] = True
    return marked


def _turned(cliff: _Cliff, size: int) -> _Cliff:
    """Return the cliff as seen in a mirror."""
    first, last = size - 1 - cliff.last, size - 1 - cliff.first
    return _Cliff(first, last, not cliff.climbs, cliff.base, cliff.top)


@dataclass(frozen=True)
class _Walk:
    """Walk along the line to the right of a cliff."""

    line: Line
    tones: LineTones
    weak: Mask
    cliffs: list[_Cliff]

    @property
    def side(self) -> int:
        """Return how many columns tell what lies beside a cliff."""
        return max(3, round(SIDE_SHARE * self.line.size))

    def beside(self, values: Line, cliff: _Cliff) -> tuple[float, float]:
        """Return the median before and after the cliff."""
        left = max([c.last for c in self.cliffs if c.last < cliff.first], default=0)
        right = min(
            [c.first for c in self.cliffs if c.first > cliff.last],
            default=self.line.size - 1,
        )
        before = values[max(left, cliff.first - self.side) : cliff.first + 1]
        after = values[cliff.last : min(right + 1, cliff.last + self.side)]
        return float(np.median(before)), float(np.median(after))

    def fallen(self, cliff: _Cliff) -> bool:
        """Say whether the side before a climbing cliff has land above its line."""
        low, high = self.beside(self.tones.above, cliff)
        land = self.beside(self.tones.below, cliff)[1]
        usual_sky = float(np.median(self.tones.above))
        usual_land = float(np.median(self.tones.below))
        like_land = abs(low - usual_land) < abs(low - usual_sky)
        at_rim = cliff.first < RIM_SHARE * self.line.size
        return like_land and (at_rim or abs(low - high) > abs(low - land))

    def end(self, cliff: _Cliff, fallen: bool) -> int:
        """Return the column at which what begins after the cliff ends.

        It ends where the line is back near its level before the cliff, at a cliff
        the other way, or where the land's tone is again that of before the cliff.
        """
        height = cliff.base - cliff.top
        span = slice(cliff.last, self.line.size)
        if fallen:
            back = self.line[span] <= cliff.top + (1.0 - BACK_DOWN) * height
        else:
            back = self.line[span] >= cliff.base - (1.0 - BACK_DOWN) * height
        ends = [self.line.size, cliff.last + round(WIDEST_IN_HEIGHTS * height)]
        if back.any():
            ends.append(cliff.last + int(np.argmax(back)))
        for other in self.cliffs:
            opposite = other.climbs != cliff.climbs
            # A step down from something that stands higher yet is not its end.
            down = fallen or other.base >= cliff.top + HALF_AS_TALL * height
            tall = other.base - other.top >= HALF_AS_TALL * height
            if other.first >= cliff.last and opposite and tall and down:
                ends.append(other.last + 1)
        if not fallen:
            ends.append(self._like_before(cliff))
        return min(ends)

    def _like_before(self, cliff: _Cliff) -> int:
        """Return where the land's tone is for long that of before the cliff."""
        before, after = self.beside(self.tones.under, cliff)
        if abs(after - before) <= CLEAR_TONES:
            return self.line.size
        tone = ndimage.median_filter(self.tones.under, self.side)
        alike = (np.abs(tone - before) < np.abs(tone - after)) & ~self.weak
        run = 0
        for column in range(cliff.last, self.line.size):
            run = run + 1 if alike[column] else 0
            if run > LONG_SIDES * self.side:
                return column - run + self.side // 2
        return self.line.size
