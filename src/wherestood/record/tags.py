"""Write the small square tags of things seen, where they cover nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from wherestood.record.palette import PAPER

__all__ = ["Tag", "write_tags"]

LONGEST = 14  # characters of an id on a picture
SIZE_PT = 7.0
#: Places tried about a point, nearest first [pt], and the ways from it [deg].
REACHES_PT = (14.0, 24.0, 36.0, 50.0, 66.0, 84.0)
WAYS_DEG = (-45.0, 45.0, -135.0, 135.0, 0.0, 180.0, -90.0, 90.0)
#: A tag this far from its point has a leader to it [pt].
LED_PT = 20.0
CLEAR_PT = 1.5


@dataclass(frozen=True)
class Tag:
    """Hold a name and the point it belongs to.

    Attributes
    ----------
    name : str
    at : (x, y)
        In the axes' own measure.
    colour : str
    doubted : bool
        Whether what it names is doubted: then the tag's rim is broken.
    """

    name: str
    at: tuple[float, float]
    colour: str
    doubted: bool = False


def write_tags(
    axes: Axes, tags: Sequence[Tag], keep_clear: Sequence[tuple[float, float]] = ()
) -> None:
    """Write tags beside their points, clear of one another and of other points.

    Parameters
    ----------
    keep_clear : sequence of (x, y)
        More points that no tag may cover, in the axes' own measure.
    """
    size_pt = _size_pt(axes)
    points = [_in_pt(axes, tag.at, size_pt) for tag in tags]
    taken = [_box(at, (9.0, 9.0)) for at in points]
    taken += [_box(_in_pt(axes, at, size_pt), (26.0, 26.0)) for at in keep_clear]
    for tag, at in zip(tags, points, strict=True):
        words = tag.name
        if len(words) > LONGEST:
            words = f"{words[: LONGEST - 1]}…"
        box_pt = (0.62 * SIZE_PT * len(words) + 4.0, SIZE_PT + 4.0)
        offset = _free_offset(at, box_pt, taken, size_pt)
        taken.append(_box(at + offset, box_pt))
        _write(axes, tag, words, offset)


def _write(axes: Axes, tag: Tag, words: str, offset: NDArray[np.float64]) -> None:
    led = float(np.hypot(*offset)) > LED_PT
    axes.annotate(
        words,
        tag.at,
        (float(offset[0]), float(offset[1])),
        textcoords="offset points",
        ha="center",
        va="center",
        fontsize=SIZE_PT,
        color=tag.colour,
        zorder=11,
        annotation_clip=True,
        arrowprops={"arrowstyle": "-", "color": tag.colour, "linewidth": 0.6}
        if led
        else None,
        bbox={
            "boxstyle": "square,pad=0.18",
            "facecolor": PAPER,
            "edgecolor": tag.colour,
            "linewidth": 0.7,
            "linestyle": "dashed" if tag.doubted else "solid",
        },
    )


def _free_offset(
    at: NDArray[np.float64],
    box_pt: tuple[float, float],
    taken: list[NDArray[np.float64]],
    size_pt: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the nearest offset whose box is inside and clear, else the clearest."""
    best, least = np.zeros(2), np.inf
    for reach_pt in REACHES_PT:
        for way_deg in WAYS_DEG:
            way = np.radians(way_deg)
            along = np.array([np.cos(way), np.sin(way)])
            offset = along * (reach_pt + along**2 * (box_pt[0] / 2 - 6.0))
            box = _box(at + offset, box_pt)
            covered = sum(_overlap(box, other) for other in taken)
            outside = np.maximum(-box[:2], 0).sum()
            outside += np.maximum(box[2:] - size_pt, 0).sum()
            cost = covered + 100.0 * outside
            if cost < least:
                best, least = offset, cost
        if least == 0.0:
            break
    return best


def _size_pt(axes: Axes) -> NDArray[np.float64]:
    place, figure = axes.get_position(), axes.figure
    wide_in, tall_in = figure.get_size_inches()  # type: ignore[union-attr]
    return np.array([72.0 * wide_in * place.width, 72.0 * tall_in * place.height])


def _in_pt(
    axes: Axes, at: tuple[float, float], size_pt: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return a point in points from the axes' lower left corner."""
    low = np.array([axes.get_xlim()[0], axes.get_ylim()[0]])
    high = np.array([axes.get_xlim()[1], axes.get_ylim()[1]])
    return np.asarray((np.array(at) - low) / (high - low) * size_pt)


def _box(
    middle: NDArray[np.float64], size_pt: tuple[float, float]
) -> NDArray[np.float64]:
    half = np.array(size_pt) / 2
    return np.concatenate((middle - half, middle + half))


def _overlap(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """Return the area that two boxes share, a little clearance included."""
    sides = np.minimum(one[2:], other[2:]) - np.maximum(one[:2], other[:2]) + CLEAR_PT
    return float(np.prod(np.maximum(sides, 0.0)))
