"""Register one scan of a plate to another."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from wherestood.errors import PlateError
from wherestood.plate.copies.agreement import agreement
from wherestood.plate.copies.features import (
    Features,
    Pairs,
    find_features,
    first_pairs,
    guided_pairs,
)
from wherestood.plate.copies.fit import fit_warp
from wherestood.plate.copies.registration import Registration, outline_of
from wherestood.plate.copies.warp import Floats, Frame, Kind, Warp, frame_of
from wherestood.progress import SILENT, Progress

__all__ = ["HandPoints", "Picture", "register"]

Grey = NDArray[np.float32]

# A dot screen or a soft copy hides at one size what shows at another.
SIZES_PX = (1600, 800, 400)
SURE_PAIRS = 40
LEAST_PAIRS = 12
# Median likeness, light and shade evened, below which two pictures are not one.
LEAST_AGREEMENT = 0.25
FEATURE_SD_PX = 0.5
HAND_SD_PX = 2.0
_REACHES_PX = (12.0, 4.0)
# What so many points hold at the least, without one over to find a blunder by.
_HELD_BY: dict[int, Kind] = {2: "similarity", 3: "affine", 4: "projective"}
_LEAST_HAND = 2
_SEED = 1


@dataclass(frozen=True)
class Picture:
    """Hold a scan for registering.

    Attributes
    ----------
    grey : (height, width) float32 array
        Upright positive, reduced or not, 0 (black) to 1 (white).
    width_px, height_px : int
        Size of the whole scan, in whose pixels all answers are [px].
    """

    grey: Grey
    width_px: int
    height_px: int

    @property
    def frame(self) -> Frame:
        """Return centre and half-diagonal."""
        return frame_of(self.width_px, self.height_px)


@dataclass(frozen=True)
class HandPoints:
    """Hold points that a person put on both scans.

    Attributes
    ----------
    source_px, target_px : (points, 2) float64 arrays
        The same points on either scan [px].
    sd_px : float
        Standard error of a pair, one axis, on the target [px].
    """

    source_px: Floats
    target_px: Floats
    sd_px: float = HAND_SD_PX


def register(
    source: Picture,
    target: Picture,
    hand: HandPoints | None = None,
    *,
    kind: Kind | None = None,
    by_features: bool = True,
    progress: Progress = SILENT,
) -> Registration | None:
    """Register a scan to another of the same plate.

    Parameters
    ----------
    source, target : Picture
        The two scans.
    hand : HandPoints, optional
        Points that a person put on both. Two hold a similarity, three an affine
        map, four a projective one; with features they count together.
    kind : Kind, optional
        Family of maps; chosen by what the pairs hold if left out.
    by_features : bool
        Whether to look for shared points; without, the hand points alone count.
    progress : Progress
        Told of each attempt.

    Returns
    -------
    Registration or None
        None where no map can be trusted: then more hand points are needed.

    Raises
    ------
    PlateError
        If hand points are not two finite columns of equal length.

    Notes
    -----
    Both ways round and both tones are tried at each size until one is sure. With
    two or more hand points the pairs are sought about the places they foretell.
    On invented pairs the median error is given in ``docs/copies.md``.
    """
    _check_hand(hand)
    frames = (source.frame, target.frame)
    best: Registration | None = None
    if by_features:
        sizes_px = _sizes_px(source, target)
        progress.stage("comparing copies", 4 * len(sizes_px))
        for size_px in sizes_px:
            found = _at_size(source, target, hand, frames, size_px, kind, progress)
            if found is not None and (best is None or _better(found, best)):
                best = found
            if best is not None and best.features >= SURE_PAIRS:
                break
    if best is None and hand is not None and len(hand.source_px) >= _LEAST_HAND:
        best = _by_hand(source, target, hand, frames, kind)
    return best


def _sizes_px(source: Picture, target: Picture) -> list[int]:
    """Return the sizes to try, largest first; none twice for a small picture."""
    longest = max(*source.grey.shape, *target.grey.shape)
    return sorted({min(size, longest) for size in SIZES_PX}, reverse=True)


def _better(found: Registration, best: Registration) -> bool:
    return found.agreement * found.features > best.agreement * best.features


def _check_hand(hand: HandPoints | None) -> None:
    if hand is None:
        return
    shapes = {np.shape(hand.source_px), np.shape(hand.target_px)}
    good = len(shapes) == 1 and len(shape := shapes.pop()) == 2 and shape[1] == 2
    if (
        not good
        or not np.isfinite(hand.source_px).all()
        or not np.isfinite(hand.target_px).all()
        or not hand.sd_px > 0.0
    ):
        raise PlateError(
            "Points put on two copies by hand must be as many on the one as on the "
            "other, each an x and a y in pixels, with an error above 0.",
            "Give each point on both copies.",
        )


def _at_size(
    source: Picture,
    target: Picture,
    hand: HandPoints | None,
    frames: tuple[Frame, Frame],
    size_px: int,
    kind: Kind | None,
    progress: Progress,
) -> Registration | None:
    """Try both tones and both ways round at one size; return the best found."""
    small, factor_s = _reduced(source, size_px)
    large, factor_t = _reduced(target, size_px)
    on_target = find_features(large)
    best: Registration | None = None
    for mirrored, inverted in (
        (False, False),
        (True, False),
        (False, True),
        (True, True),
    ):
        progress.advance()
        seen = 1.0 - small if inverted else small
        on_source = find_features(np.asarray(seen, np.float32), mirrored=mirrored)
        rough = _rough(on_source, on_target, (factor_s, factor_t), frames, mirrored)
        rough = rough or _rough_by_hand(hand, frames, mirrored)
        found = None
        for reach_px in _REACHES_PX:
            if rough is None:
                break
            pairs = _about(rough, on_source, on_target, factor_s, factor_t, reach_px)
            found = _settled(pairs, hand, frames, mirrored, inverted, kind, factor_t)
            rough = found.warp if found is not None else None
        if found is None or found.features < LEAST_PAIRS:
            continue
        likeness = agreement(source.grey, target.grey, found.warp)
        likeness = -likeness if inverted else likeness
        if likeness < LEAST_AGREEMENT:
            continue
        found = _with_agreement(found, likeness)
        if best is None or _better(found, best):
            best = found
        if best.features >= SURE_PAIRS:
            break
    return best


def _reduced(picture: Picture, size_px: int) -> tuple[Grey, tuple[float, float]]:
    """Return the picture at this size, and whole pixels to one of it, x and y."""
    height, width = picture.grey.shape
    share = min(1.0, size_px / max(height, width))
    grey = picture.grey
    if share < 1.0:
        shape = (max(1, round(width * share)), max(1, round(height * share)))
        grey = np.asarray(
            cv2.resize(grey, shape, interpolation=cv2.INTER_AREA), dtype=np.float32
        )
    return grey, (picture.width_px / grey.shape[1], picture.height_px / grey.shape[0])


def _rough(
    on_source: Features,
    on_target: Features,
    factors: tuple[tuple[float, float], tuple[float, float]],
    frames: tuple[Frame, Frame],
    mirrored: bool,
) -> Warp | None:
    """Return a first map by features alone."""
    pairs = first_pairs(on_source, on_target, mirrored=mirrored, seed=_SEED)
    if pairs is None or len(pairs.source_px) < LEAST_PAIRS:
        return None
    sd = np.full(len(pairs.source_px), FEATURE_SD_PX * max(factors[1]))
    fit = fit_warp(
        pairs.source_px * factors[0],
        pairs.target_px * factors[1],
        sd,
        frames,
        mirrored=mirrored,
        kind="projective",
    )
    if fit is None or (np.linalg.det(fit.warp.matrix) < 0.0) != mirrored:
        return None
    return fit.warp


def _rough_by_hand(
    hand: HandPoints | None, frames: tuple[Frame, Frame], mirrored: bool
) -> Warp | None:
    """Return a first map by hand points: the richest that they hold."""
    if hand is None:
        return None
    kind = _HELD_BY.get(min(len(hand.source_px), 4))
    if kind is None:
        return None
    sd = np.full(len(hand.source_px), hand.sd_px)
    fit = fit_warp(
        hand.source_px, hand.target_px, sd, frames, mirrored=mirrored, kind=kind
    )
    if fit is None or (np.linalg.det(fit.warp.matrix) < 0.0) != mirrored:
        return None
    return fit.warp


def _about(
    rough: Warp,
    on_source: Features,
    on_target: Features,
    factor_s: tuple[float, float],
    factor_t: tuple[float, float],
    reach_px: float,
) -> Pairs:
    """Return pairs about a first map, in whole pixels of either scan."""
    foretold = rough.forward(on_source.at_px * factor_s) / factor_t
    pairs = guided_pairs(on_source, on_target, foretold, reach_px)
    return Pairs(pairs.source_px * factor_s, pairs.target_px * factor_t)


def _settled(
    pairs: Pairs,
    hand: HandPoints | None,
    frames: tuple[Frame, Frame],
    mirrored: bool,
    inverted: bool,
    kind: Kind | None,
    factor_t: tuple[float, float],
) -> Registration | None:
    """Fit features and hand points together."""
    source, target = pairs.source_px, pairs.target_px
    sd = np.full(len(source), FEATURE_SD_PX * max(factor_t))
    by_hand = 0
    if hand is not None:
        by_hand = len(hand.source_px)
        source = np.vstack([hand.source_px, source])
        target = np.vstack([hand.target_px, target])
        sd = np.append(np.full(by_hand, hand.sd_px), sd)
    fit = fit_warp(source, target, sd, frames, mirrored=mirrored, kind=kind)
    if fit is None or (np.linalg.det(fit.warp.matrix) < 0.0) != mirrored:
        return None
    return Registration(
        warp=fit.warp,
        fit=fit,
        tone_inverted=inverted,
        hand_points=int(fit.inside[:by_hand].sum()),
        features=int(fit.inside[by_hand:].sum()),
        agreement=float("nan"),
        held_px=outline_of(source[fit.inside]),
    )


def _by_hand(
    source: Picture,
    target: Picture,
    hand: HandPoints,
    frames: tuple[Frame, Frame],
    kind: Kind | None,
) -> Registration | None:
    """Register by hand points alone: the way round that they fit better."""
    best: Registration | None = None
    none = Pairs(np.empty((0, 2)), np.empty((0, 2)))
    for mirrored in (False, True):
        chosen = kind
        if chosen is None and len(hand.source_px) < 4:
            chosen = "similarity"
        found = _settled(none, hand, frames, mirrored, False, chosen, (1.0, 1.0))
        if found is None:
            continue
        better = best is None or _misses(found) < 0.5 * _misses(best)
        if better:
            best = found
    if best is None:
        return None
    likeness = agreement(source.grey, target.grey, best.warp)
    return _with_agreement(best, abs(likeness), likeness < 0.0)


def _misses(found: Registration) -> float:
    return float(np.hypot(*found.fit.residual_px.T).mean())


def _with_agreement(
    found: Registration, likeness: float, inverted: bool | None = None
) -> Registration:
    tone = found.tone_inverted if inverted is None else inverted
    return replace(found, agreement=likeness, tone_inverted=tone)
