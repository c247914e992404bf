"""Find things that show on two plates, so that a panorama can be put together.

Corners and blotches are described by SIFT, paired where each is the other's best by
far, and held to one turn of the camera: from one station two pictures differ by a
homography. Pairs that none explains are dropped.

References
----------
Lowe 2004, "Distinctive image features from scale-invariant keypoints": the description,
and the ratio of the best to the second best (section 7.1).
Brown and Lowe 2007, "Automatic panoramic image stitching using invariant features",
section 3.2: two pictures belong together if ``inliers > 8 + 0.3 features`` of the
overlap (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from wherestood.plate.scan import Plate
from wherestood.progress import SILENT, Progress

__all__ = ["MATCH_TRUST", "PairMatch", "find_matches", "match_pictures"]

Array = NDArray[np.float64]
Grey = NDArray[np.float32]

#: Scans are looked at with their longer side so long [px].
LONGEST_PX = 1600
#: Corners looked for in a picture.
FEATURES = 6000
#: A pair's best match is nearer than this times the second best.
RATIO = 0.8
#: A pair may be so far from what the turn says [px of the picture looked at].
WITHIN_PX = 3.0
#: Two pictures belong together by more pairs than this, and this share of the corners
#: of their overlap that have a match at all.
FEWEST, SHARE = 8.0, 0.3
#: Marks on the plate itself, not on the ground, come twice at the same place: pairs
#: that move by less than this share of the width are dropped.
SAME_PLACE = 0.01
#: Nothing is looked for nearer the scan's edge than this share of its shorter side:
#: stains and frayed films are there.
RIM = 0.03
#: How often a kept pair is one thing seen twice: what one turn explains seldom is not.
#: A judgement.
MATCH_TRUST = 0.9
#: Of pairs found, these many are kept, well spread.
KEPT = 12
#: Standard error of a kept place, at least [px of the picture looked at].
LEAST_SD_PX = 0.7


@dataclass(frozen=True)
class PairMatch:
    """Hold what shows on two plates.

    Attributes
    ----------
    first, second : int
        Which plates.
    first_px, second_px : (n, 2) float64 array
        Places on each, full-size pixels of the upright positive.
    sd_px : float
        Standard error of a place along each axis [px].
    inliers, overlapping : int
        Pairs that one turn explains, and pairs in the overlap that it could explain.
    """

    first: int
    second: int
    first_px: Array
    second_px: Array
    sd_px: float
    inliers: int
    overlapping: int


def find_matches(
    plates: Sequence[Plate], progress: Progress = SILENT
) -> tuple[PairMatch, ...]:
    """Return every pair of plates that show something in common.

    Parameters
    ----------
    plates : sequence of Plate
        In any order.
    """
    count = len(plates)
    progress.stage(
        "Looking for what plates have in common", count + count * (count - 1) // 2
    )
    seen = []
    for plate in plates:
        picture, factor = plate.reduced(LONGEST_PX)
        seen.append(_described(picture, factor))
        progress.advance()
    found = []
    for first in range(count):
        for second in range(first + 1, count):
            match = _matched(seen[first], seen[second], first, second)
            if match is not None:
                found.append(match)
            progress.advance()
    return tuple(found)


def match_pictures(first: Grey, second: Grey) -> PairMatch | None:
    """Return what two pictures have in common, None if nothing convinces.

    Parameters
    ----------
    first, second : (height, width) float32 array
        Grey, 0 to 1.
    """
    return _matched(_described(first, 1.0), _described(second, 1.0), 0, 1)


@dataclass(frozen=True)
class _Described:
    """Hold the corners of a picture, in its own pixels."""

    at: Array
    descriptors: NDArray[np.float32]
    width: int
    height: int
    factor: float


def _described(picture: Grey, factor: float) -> _Described:
    # Tones are evened out: plates were exposed and developed one by one.
    eight = np.clip(255.0 * picture, 0.0, 255.0).astype(np.uint8)
    even = cv2.createCLAHE(clipLimit=3.0, tileGridSize=(8, 8)).apply(eight)
    height, width = even.shape
    rim = round(RIM * min(height, width))
    mask = np.zeros_like(even)
    mask[rim : height - rim, rim : width - rim] = 255
    sift = cv2.SIFT_create(nfeatures=FEATURES, contrastThreshold=0.02)  # type: ignore[attr-defined]
    points, descriptors = sift.detectAndCompute(even, mask)
    if descriptors is None:
        descriptors = np.zeros((0, 128), dtype=np.float32)
    # OpenCV counts from the middle of the first pixel.
    at = np.array([point.pt for point in points]).reshape(-1, 2) + 0.5
    return _Described(at, descriptors, width, height, factor)


def _matched(
    one: _Described, other: _Described, first: int, second: int
) -> PairMatch | None:
    a, b = _paired(one, other)
    if len(a) <= FEWEST:
        return None
    # The same blemish of glass or scanner stands at the same place on every scan.
    size = np.array([one.width, one.height]) / np.array([other.width, other.height])
    moved = np.hypot(*(a - b * size).T) > SAME_PLACE * one.width
    a, b = a[moved], b[moved]
    if len(a) <= FEWEST:
        return None
    turn, inside = cv2.findHomography(
        a, b, cv2.USAC_MAGSAC, WITHIN_PX, maxIters=5000, confidence=0.999
    )
    if turn is None or not _like_a_turn(turn, one, other):
        return None
    good = inside.ravel().astype(bool)
    carried = cv2.perspectiveTransform(a[:, None], turn)[:, 0]
    within = (carried > 0).all(axis=1) & (carried < (other.width, other.height)).all(
        axis=1
    )
    overlapping = int(within.sum())
    if good.sum() <= FEWEST + SHARE * overlapping:
        return None
    apart = np.hypot(*(carried[good] - b[good]).T)
    chosen = _spread(a[good], KEPT)
    sd = max(LEAST_SD_PX, float(np.sqrt(np.mean(apart**2)) / math.sqrt(2.0)))
    return PairMatch(
        first,
        second,
        one.factor * a[good][chosen],
        other.factor * b[good][chosen],
        sd * max(one.factor, other.factor),
        int(good.sum()),
        overlapping,
    )


def _paired(one: _Described, other: _Described) -> tuple[Array, Array]:
    """Return places that are each other's best match by far."""
    empty = np.zeros((0, 2))
    if min(len(one.at), len(other.at)) < 2:
        return empty, empty
    matcher = cv2.BFMatcher()

    def best(ours: _Described, theirs: _Described) -> dict[int, int]:
        pairs = matcher.knnMatch(ours.descriptors, theirs.descriptors, k=2)
        return {
            p[0].queryIdx: p[0].trainIdx
            for p in pairs
            if len(p) == 2 and p[0].distance < RATIO * p[1].distance
        }

    there, back = best(one, other), best(other, one)
    both = [(i, j) for i, j in there.items() if back.get(j) == i]
    if not both:
        return empty, empty
    index = np.array(both)
    return one.at[index[:, 0]], other.at[index[:, 1]]


def _like_a_turn(turn: Array, one: _Described, other: _Described) -> bool:
    """Say whether a homography may be a camera turned: no mirror, no great zoom."""
    corners = np.array(
        [[0.0, 0.0], [one.width, 0.0], [one.width, one.height], [0.0, one.height]]
    )
    middle = corners.mean(axis=0)
    step = 1e-3 * one.width
    points = middle + step * np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    moved = cv2.perspectiveTransform(points[:, None], turn)[:, 0]
    sides = (moved[1:] - moved[0]) / step
    scale = float(np.linalg.det(sides)) / (other.width / one.width) ** 2
    lean = math.atan2(sides[0, 1], sides[0, 0])
    return 0.3 < scale < 3.0 and abs(lean) < math.radians(20.0)


def _spread(points: Array, most: int) -> NDArray[np.int64]:
    """Return indices of points as far from one another as may be."""
    chosen = [int(np.argmin(points[:, 0]))]
    away = np.hypot(*(points - points[chosen[0]]).T)
    while len(chosen) < min(most, len(points)):
        chosen.append(int(np.argmax(away)))
        away = np.minimum(away, np.hypot(*(points - points[chosen[-1]]).T))
    return np.array(chosen)
