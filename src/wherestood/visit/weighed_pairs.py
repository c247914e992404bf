"""Weigh the machine's pairs and a person's marks together, for one camera."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wherestood.ground.mapping import Mapping
from wherestood.visit.depths import UNTOLD_SD, Depths, depths_of
from wherestood.visit.photo_camera import PhotoCamera
from wherestood.visit.seen_on_both import BothSeen, HandMarks, Looked
from wherestood.visit.stood_off import Expected, StoodOff, solve_photo_camera

__all__ = [
    "depths_of_some", "drawn_depths", "solve_pairs", "some_pairs", "with_distances",
]  # fmt: skip

Array = NDArray[np.float64]
#: A feature that is followed at all is placed to about this, on the reduced picture.
_FEATURE_SD_PX = 0.7
_MOST_ASKED = 700


def drawn_depths(mapping: Mapping, at_px: Array, rng: np.random.Generator) -> Depths:
    """Return how far points of the plate are, errors of the terrain drawn."""
    return depths_of(mapping, at_px[:, 0], at_px[:, 1], rng)


def some_pairs(pairs: BothSeen, rng: np.random.Generator) -> BothSeen:
    """Return so many pairs as can be weighed together, of all parts of the plate."""
    if len(pairs) <= _MOST_ASKED:
        return pairs
    which = np.sort(rng.permutation(len(pairs))[:_MOST_ASKED])
    return BothSeen(pairs.plate_px[which], pairs.photo_px[which])


def depths_of_some(depths: Depths, which: NDArray[np.bool_]) -> Depths:
    """Return the depths of some of the points."""
    return replace(
        depths, directions=depths.directions[:, which],
        inverse_m=depths.inverse_m[:, which], own_sd=depths.own_sd[which],
        on_ground=depths.on_ground[which],
    )  # fmt: skip


def solve_pairs(
    mapping: Mapping,
    pairs: BothSeen,
    hand: HandMarks,
    looked: Looked | None,
    camera: PhotoCamera,
    expected: Expected,
    rng: np.random.Generator,
    depths: Depths | None = None,
) -> StoodOff:
    """Return the camera that pairs and marks agree on.

    Parameters
    ----------
    mapping : Mapping
    pairs : BothSeen
        Found by machine.
    hand : HandMarks
    looked : Looked or None
        Whose reduced pictures the pairs were found on.
    camera : PhotoCamera
        Where to begin.
    expected : Expected
    rng : numpy.random.Generator
    depths : Depths, optional
        Of both, pairs first, distances by tape put in; drawn anew if left out.
    """
    plate = np.concatenate((pairs.plate_px, hand.plate_px))
    photo = np.concatenate((pairs.photo_px, hand.photo_px))
    if depths is None:
        depths = with_distances(drawn_depths(mapping, plate, rng), hand)
    factor = looked.photo_factor if looked is not None else 1.0
    reading = np.concatenate(
        (np.full(len(pairs), _FEATURE_SD_PX * factor), np.full(len(hand), hand.sd_px))
    )
    by_hand = np.arange(len(plate)) >= len(pairs)
    known = by_hand.copy()
    known[by_hand] = np.isfinite(hand.distance_m)
    return solve_photo_camera(depths, photo, reading, camera, expected, sure=known)


def with_distances(depths: Depths, hand: HandMarks) -> Depths:
    """Return depths with distances that were measured in place of the terrain's."""
    first = depths.inverse_m.shape[1] - len(hand)
    which = first + np.flatnonzero(np.isfinite(hand.distance_m))
    told = which - first
    inverse, own = depths.inverse_m.copy(), depths.own_sd.copy()
    ground = depths.on_ground.copy()
    inverse[:, which] = 1.0 / hand.distance_m[told]
    own[which] = np.clip(
        hand.distance_sd_m[told] / hand.distance_m[told], 1e-3, UNTOLD_SD
    )
    ground[which] = True
    return replace(depths, inverse_m=inverse, own_sd=own, on_ground=ground)
