"""Find points that two scans of one plate share.

The features are Lowe's [1]_, as OpenCV computes them, compared after Arandjelovic
and Zisserman [2]_; a first map that many pairs agree on is sought by MAGSAC [3]_.

References
----------
.. [1] D. G. Lowe, "Distinctive image features from scale-invariant keypoints",
   International Journal of Computer Vision 60 (2004) 91-110.
.. [2] R. Arandjelovic and A. Zisserman, "Three things everyone should know to improve
   object retrieval", IEEE Conference on Computer Vision and Pattern Recognition
   (2012) 2911-2918.
.. [3] D. Barath, J. Noskova, M. Ivashechkin and J. Matas, "MAGSAC++, a fast, reliable
   and accurate robust estimator", same conference (2020) 1301-1309.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

__all__ = [
    "Features",
    "Pairs",
    "clear_pairs",
    "find_features",
    "first_pairs",
    "guided_pairs",
]

Floats = NDArray[np.float64]
Grey = NDArray[np.float32]

MOST_FEATURES = 5000
# Lowe's own choice is 0.8 (section 7.1): nine in ten wrong pairs go.
RATIO = 0.8
# Near the place foretold fewer rivals stand, so a pair may be less clear.
GUIDED_RATIO = 0.9
_FARTHEST = 0.75  # apart, of descriptors of length 1
_FIRST_MISS_PX = 3.0
_SAME_SPOT_PX = 1.0
_TILE_SHARE = 1.0 / 8.0
_NEIGHBOURS = 6


@dataclass(frozen=True)
class Features:
    """Hold points of a picture and what it looks like about them.

    Attributes
    ----------
    at_px : (features, 2) float64 array
        Where, on the picture given [px].
    looks : (features, 128) float32 array
        Descriptors of length 1.
    """

    at_px: Floats
    looks: NDArray[np.float32]


@dataclass(frozen=True)
class Pairs:
    """Hold the same points on two pictures, (pairs, 2) float64 arrays [px]."""

    source_px: Floats
    target_px: Floats


def find_features(
    grey: Grey, *, mirrored: bool = False, most: int = MOST_FEATURES
) -> Features:
    """Find features of a picture.

    Parameters
    ----------
    grey : (height, width) float32 array
        Tones, 0 to 1.
    mirrored : bool
        Look at the picture left for right; places are still those of `grey`.
    most : int
        How many at most, the clearest.
    """
    seen = np.ascontiguousarray(grey[:, ::-1]) if mirrored else grey
    low, high = np.percentile(seen, (0.5, 99.5))
    stretched = np.clip((seen - low) / max(float(high - low), 1e-6), 0.0, 1.0)
    # Faded prints have little contrast in parts: it is evened out, tile by tile.
    tiles = round(1.0 / _TILE_SHARE)
    even = cv2.createCLAHE(clipLimit=3.0, tileGridSize=(tiles, tiles))
    toned = even.apply((stretched * 255.0).astype(np.uint8))
    # Without the exact doubling all places are out by a quarter of a pixel.
    create = cv2.SIFT_create  # type: ignore[attr-defined]
    finder = create(nfeatures=most, enable_precise_upscale=True)
    found, looks = finder.detectAndCompute(toned, None)
    if looks is None or not found:
        return Features(np.empty((0, 2)), np.empty((0, 128), np.float32))
    # OpenCV puts a pixel's centre at whole numbers, this program at the half.
    at = np.array([point.pt for point in found], dtype=np.float64) + 0.5
    if mirrored:
        at[:, 0] = grey.shape[1] - at[:, 0]
    rooted = np.sqrt(looks / np.maximum(looks.sum(axis=1, keepdims=True), 1e-6))
    return Features(at, rooted.astype(np.float32))


def clear_pairs(source: Features, target: Features) -> Pairs:
    """Return pairs whose looks are clearly each other's best, wherever they lie.

    Many may be wrong still: no map has been asked of them.
    """
    if min(len(source.at_px), len(target.at_px)) < _NEIGHBOURS:
        return Pairs(np.empty((0, 2)), np.empty((0, 2)))
    matcher = cv2.BFMatcher(cv2.NORM_L2)
    there = matcher.knnMatch(source.looks, target.looks, k=2)
    back = matcher.match(target.looks, source.looks)
    best_back = {match.queryIdx: match.trainIdx for match in back}
    kept = [
        (first.queryIdx, first.trainIdx)
        for first, second in there
        if first.distance < RATIO * second.distance
        and best_back.get(first.trainIdx) == first.queryIdx
    ]
    chosen = np.array(kept, dtype=np.intp).reshape(-1, 2)
    return _one_a_spot(source.at_px[chosen[:, 0]], target.at_px[chosen[:, 1]])


def first_pairs(
    source: Features, target: Features, *, mirrored: bool, seed: int
) -> Pairs | None:
    """Return pairs that agree on one map, sought without foreknowledge.

    Parameters
    ----------
    source, target : Features
        Of the two pictures.
    mirrored : bool
        Whether the source's were found as mirrored.
    seed : int
        Of the random draws.

    Returns
    -------
    Pairs or None
        None where nothing agrees.
    """
    pairs = clear_pairs(source, target)
    if len(pairs.source_px) < _NEIGHBOURS:
        return None
    settings = cv2.UsacParams()
    settings.threshold = _FIRST_MISS_PX
    settings.confidence = 0.9999
    settings.maxIterations = 10_000
    settings.randomGeneratorState = seed
    settings.score = cv2.SCORE_METHOD_MAGSAC
    settings.sampler = cv2.SAMPLING_UNIFORM
    settings.loMethod = cv2.LOCAL_OPTIM_SIGMA
    # OpenCV takes only maps that keep the way round.
    turned = pairs.source_px * (-1.0 if mirrored else 1.0, 1.0)
    try:
        found = cv2.findHomography(turned, pairs.target_px, settings)
    except cv2.error:
        return None
    # A None, where nothing agrees, becomes a single False.
    inside = np.asarray(found[1], dtype=bool).ravel()
    if not inside.any():
        return None
    return Pairs(pairs.source_px[inside], pairs.target_px[inside])


def guided_pairs(
    source: Features,
    target: Features,
    foretold_px: Floats,
    reach_px: float | Floats,
    ratio: float = GUIDED_RATIO,
) -> Pairs:
    """Return pairs near places foretold by a first map.

    Parameters
    ----------
    source, target : Features
        Of the two pictures.
    foretold_px : (features, 2) float64 array
        Where each source feature should lie on the target; NaN for nowhere [px].
    reach_px : float or (features,) float64 array
        How far from there each may lie [px].
    ratio : float
        How much less the best must differ than any rival near it, no unit.
    """
    tree = cKDTree(target.at_px)
    known = np.flatnonzero(np.isfinite(foretold_px).all(axis=1))
    if known.size == 0:
        return Pairs(np.empty((0, 2)), np.empty((0, 2)))
    reach = np.broadcast_to(reach_px, len(foretold_px))[known]
    near = tree.query_ball_point(foretold_px[known], reach)
    taken = []
    for index, candidates in zip(known, near, strict=True):
        if not candidates:
            continue
        apart = np.linalg.norm(target.looks[candidates] - source.looks[index], axis=1)
        best = int(apart.argmin())
        at = target.at_px[candidates]
        rivals = np.hypot(*(at - at[best]).T) > _SAME_SPOT_PX
        clear = not rivals.any() or apart[best] < ratio * apart[rivals].min()
        if clear and apart[best] < _FARTHEST:
            taken.append((index, candidates[best], apart[best]))
    if not taken:
        return Pairs(np.empty((0, 2)), np.empty((0, 2)))
    taken.sort(key=lambda row: row[2])
    chosen = np.array([row[:2] for row in taken], dtype=np.intp)
    return _one_a_spot(source.at_px[chosen[:, 0]], target.at_px[chosen[:, 1]])


def _one_a_spot(source: Floats, target: Floats) -> Pairs:
    """Keep one pair a spot: OpenCV gives a corner several times, once a direction."""
    for side in (0, 1):
        column = (source, target)[side]
        _, first = np.unique(
            np.floor(column / _SAME_SPOT_PX), axis=0, return_index=True
        )
        first.sort()
        source, target = source[first], target[first]
    return Pairs(source, target)
