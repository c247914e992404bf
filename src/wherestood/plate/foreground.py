"""Tell where the traced line is no distant skyline."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

__all__ = ["doubtful_columns"]

Grey = NDArray[np.float32]
Line = NDArray[np.float64]
Mask = NDArray[np.bool_]

# Slopes of hills seldom pass 60 degrees for long; walls and trunks stand upright.
STEEP = 3.0
CLIFF_SHARE = 0.008  # of the width: lower steps are dust, crags or far trees
SIDE_SHARE = 0.015
MARGIN_SHARE = 0.006
BACK_DOWN = 0.85
HALF_AS_TALL = 0.5
LONGEST_FALL_SHARE = 0.15
WIDEST_IN_HEIGHTS = 12.0  # a house shows less wall than that beside its roof
CLEAR_TONES = 0.06
LEAST_STEP = 0.03
STEP_GRAINS = 1.0
RIM_SHARE = 0.012
ROUGH_SHARE = 0.0012
ROUGH_RATIO = 3.0
DARK_RATIO = 0.6
ROOF_ARM_SHARE = 0.025
ROOF_TURN_RAD = np.deg2rad(25.0)
ROOF_STRAIGHT_PX = 0.3
MAD_TO_SD = 1.4826


@dataclass(frozen=True)
class _Tones:
    """Hold the tones just above and just below the line, per column."""

    above: Line
    below: Line
    under: Line
    grain: float

    def turned(self) -> _Tones:
        """Return the same as seen in a mirror."""
        return _Tones(
            self.above[::-1], self.below[::-1], self.under[::-1], self.grain
        )


def doubtful_columns(grey: Grey, line: Line, refined: Line) -> Mask:
    """Mark the columns where the line should not be taken for distant land.

    Parameters
    ----------
    grey : (height, width) float32 array
        Upright positive.
    line : (width,) float64 array
        The traced line [px].
    refined : (width,) float64 array
        The same below a pixel; NaN where no edge was found [px].

    Returns
    -------
    (width,) bool array
        True where the edge is weak, runs along the frame, has sky below it, or
        bounds something upright, rough and dark, or straight-edged.
    """
    width = line.size
    tones = _tones(grey, line)
    weak = _weak(tones, line, grey.shape[0])
    place = np.where(np.isfinite(refined), refined, line)
    upright = _upright(line, tones, weak)
    found = weak | upright | _rough_and_dark(place, tones) | _roofs(place)
    return ndimage.binary_dilation(found, iterations=max(1, round(MARGIN_SHARE * width)))


def _tones(grey: Grey, line: Line) -> _Tones:
    row = np.rint(line).astype(int)
    column = np.arange(line.size)

    def median_of(first: int, last: int) -> Line:
        rows = np.clip(row[:, None] + np.arange(first, last), 0, grey.shape[0] - 1)
        tone: Line = np.median(grey[rows, column[:, None]], axis=1).astype(np.float64)
        return tone

    fine = grey[:, 1:] - grey[:, :-1]
    grain = MAD_TO_SD * float(np.median(np.abs(fine))) / np.sqrt(2.0)
    return _Tones(
        median_of(-9, -3), median_of(3, 9), median_of(3, 18), max(grain, 1e-4)
    )


def _weak(tones: _Tones, line: Line, height: int) -> Mask:
    """Mark faint steps, steps with sky below them, and the frame's own edge."""
    reach = max(1, round(SIDE_SHARE * line.size / 3))
    step = ndimage.median_filter(tones.above - tones.below, 2 * reach + 1)
    faint = step < max(LEAST_STEP, STEP_GRAINS * tones.grain)
    # Fog over clear sky, or a bare corner, has its middle tone above the sky's.
    middle = ndimage.median_filter((tones.above + tones.below) / 2.0, 2 * reach + 1)
    like_sky = middle > float(np.median(tones.above))
    rim = RIM_SHARE * height
    at_frame = (line < rim) | (line > height - rim)
    weak: Mask = faint | like_sky | at_frame
    return weak


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


def _upright(line: Line, tones: _Tones, weak: Mask) -> Mask:
    """Mark the side of each cliff that does not belong to the skyline.

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
        fallen = (ahead if upper_ahead else back).fallen(cliff if upper_ahead else mirror)
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
    tones: _Tones
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
        return like_land and abs(low - high) > abs(low - land)

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
            tall = other.base - other.top >= HALF_AS_TALL * height
            if other.first >= cliff.last and opposite and tall:
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
            if run > self.side:
                return column - run // 2
        return self.line.size


def _rough_and_dark(place: Line, tones: _Tones) -> Mask:
    """Mark crowns of trees that rise without a steep side."""
    span = max(5, round(SIDE_SHARE * place.size)) | 1
    off = np.abs(place - ndimage.median_filter(place, span))
    rough = ndimage.uniform_filter1d(off, 2 * span)
    usual = max(float(np.median(rough)), 0.2)
    dark = ndimage.median_filter(tones.under, span) < DARK_RATIO * np.median(tones.under)
    very = rough > max(ROUGH_SHARE * place.size, ROUGH_RATIO * usual)
    marked: Mask = ndimage.binary_closing(very & dark, iterations=span)
    return marked


def _roofs(place: Line) -> Mask:
    """Mark straight arms that meet at an upward corner."""
    arm = max(8, round(ROOF_ARM_SHARE * place.size))
    marked = np.zeros(place.size, bool)
    slope, rough = _straight_fits(place, arm)
    for column in range(arm, place.size - arm):
        left, right = column - arm, column
        if max(rough[left], rough[right]) > ROOF_STRAIGHT_PX:
            continue
        turn = np.arctan(slope[right]) - np.arctan(slope[left])
        if turn > ROOF_TURN_RAD:
            first = _straight_reach(place, left, arm, slope[left], -1)
            last = _straight_reach(place, right, arm, slope[right], 1)
            marked[first : last + 1] = True
    return marked


def _straight_fits(place: Line, arm: int) -> tuple[Line, Line]:
    """Fit a line to each run of `arm` columns; return slopes and rms leftovers."""
    runs = np.lib.stride_tricks.sliding_window_view(place, arm)
    x = np.arange(arm) - (arm - 1) / 2.0
    slope = runs @ x / (x @ x)
    left = runs - runs.mean(axis=1, keepdims=True) - slope[:, None] * x
    return slope, np.sqrt(np.mean(left**2, axis=1))


def _straight_reach(place: Line, start: int, arm: int, slope: float, way: int) -> int:
    """Return how far the straight line through a run goes on."""
    middle = start + (arm - 1) / 2.0
    level = float(place[start : start + arm].mean())
    column = start + arm - 1 if way > 0 else start
    missed = 0
    while 0 <= column + way < place.size and missed < 4:
        column += way
        off = abs(place[column] - level - slope * (column - middle))
        missed = missed + 1 if off > 5.0 * ROOF_STRAIGHT_PX else 0
    return column
