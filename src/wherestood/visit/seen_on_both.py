"""Find what shows on a plate and on a photograph made near its station."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from wherestood.plate.copies.features import (
    RATIO,
    Features,
    clear_pairs,
    find_features,
    first_pairs,
    guided_pairs,
)
from wherestood.visit.laid_on_plate import Laying

__all__ = ["BothSeen", "HandMarks", "Looked", "look_at_both", "mirrored_likelier"]

Array = NDArray[np.float64]
Grey = NDArray[np.float32]
_SEED = 1
_SURELY = 25
_MOST_FEATURES, _PARTS_DOWN, _PARTS_ACROSS, _LAP_PX = 6000, 4, 3, 24


@dataclass(frozen=True)
class HandMarks:
    """Hold the same points marked by a person on both pictures.

    Attributes
    ----------
    plate_px, photo_px : (n, 2) float64 array
        In pixels of the whole pictures [px].
    distance_m, distance_sd_m : (n,) float64 array
        How far each is from the plate's station, where that is known; else NaN [m].
    sd_px : float
        Standard error of a mark [px].
    """

    plate_px: Array
    photo_px: Array
    distance_m: Array
    distance_sd_m: Array
    sd_px: float = 2.0

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.plate_px)

    def some(self, which: NDArray[np.bool_]) -> HandMarks:
        """Return some of them."""
        return HandMarks(
            self.plate_px[which], self.photo_px[which], self.distance_m[which],
            self.distance_sd_m[which], self.sd_px,
        )  # fmt: skip

    @classmethod
    def none(cls) -> HandMarks:
        """Return that there are none."""
        return cls(np.empty((0, 2)), np.empty((0, 2)), np.empty(0), np.empty(0))


@dataclass(frozen=True)
class BothSeen:
    """Hold pairs of points found, in pixels of the whole pictures, (n, 2) [px]."""

    plate_px: Array
    photo_px: Array

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.plate_px)


@dataclass(frozen=True)
class Looked:
    """Hold the features of both pictures.

    Attributes
    ----------
    plate, photo : Features
        On the reduced pictures.
    plate_factor, photo_factor : float
        Full-size pixels to a reduced one.
    mirrored : bool
        Whether the photograph was looked at left for right.
    photo_grey : (height, width) float32 array
        The reduced photograph.
    plate_shape : (int, int)
        Rows and columns of the reduced plate.
    plate_mirrored : bool
        Whether the plate's scan was looked at left for right.
    """

    plate: Features
    photo: Features
    plate_factor: float
    photo_factor: float
    mirrored: bool
    photo_grey: Grey
    plate_shape: tuple[int, int]
    plate_mirrored: bool = False

    def at_first(self) -> BothSeen | None:
        """Return pairs that agree on one flat map; None where nothing agrees."""
        apart = self.mirrored != self.plate_mirrored
        found = first_pairs(self.photo, self.plate, mirrored=apart, seed=_SEED)
        return None if found is None else self._whole(found.target_px, found.source_px)

    def clear(self) -> BothSeen:
        """Return pairs that look alike, many of them wrong."""
        found = clear_pairs(self.plate, self.photo)
        return self._whole(found.source_px, found.target_px)

    def near(self, foretold_px: Array, reach_px: float | Array) -> BothSeen:
        """Return pairs near where each of the plate's features is foretold.

        Parameters
        ----------
        foretold_px : (features, 2) float64 array
            On the photograph [px].
        reach_px : float or (features,) float64 array
            How far from there each may show, on the reduced photograph [px].
        """
        found = guided_pairs(
            self.plate, self.photo, foretold_px / self.photo_factor, reach_px, RATIO
        )
        return self._whole(found.source_px, found.target_px)

    def as_laid(self, laying: Laying, reach_px: float) -> BothSeen:
        """Return pairs of the plate and the photograph as it lies on it so far.

        What shows larger, smaller or slanted on the photograph looks alike then.

        Parameters
        ----------
        laying : Laying
            How it lies.
        reach_px : float
            How far off things may be on the reduced plate [px].
        """
        tones = (np.clip(self.photo_grey, 0.0, 1.0) * 255.0).astype(np.uint8)
        laid = laying.drawn(tones, self.plate_shape, factor=self.photo_factor)
        seen = _features(laid.astype(np.float32) / 255.0, self.plate_mirrored)
        found = guided_pairs(self.plate, seen, self.plate.at_px, reach_px, RATIO)
        at = laying.places(*(found.target_px * self.plate_factor).T)
        known = np.isfinite(at).all(axis=1)
        return BothSeen(found.source_px[known] * self.plate_factor, at[known])

    @property
    def plate_px(self) -> Array:
        """Return where the plate's features are [px]."""
        return self.plate.at_px * self.plate_factor

    def _whole(self, plate: Array, photo: Array) -> BothSeen:
        return BothSeen(plate * self.plate_factor, photo * self.photo_factor)


def look_at_both(
    plate: Grey,
    plate_factor: float,
    photo: Grey,
    photo_factor: float,
    *,
    mirrored: bool = False,
    plate_mirrored: bool = False,
) -> Looked:
    """Find the features of both pictures.

    Parameters
    ----------
    plate, photo : (height, width) float32 array
        Tones of the plate and blue light of the photograph, reduced.
    plate_factor, photo_factor : float
        Full-size pixels to one of these.
    mirrored, plate_mirrored : bool
        Look at the photograph, or at the plate's scan, left for right.
    """
    return Looked(
        _features(plate, plate_mirrored), _features(photo, mirrored), plate_factor,
        photo_factor, mirrored, photo, (plate.shape[0], plate.shape[1]),
        plate_mirrored,
    )  # fmt: skip


def mirrored_likelier(
    looked: Looked, plate: Grey, plate_factor: float, photo: Grey, photo_factor: float
) -> bool:
    """Say whether the photograph agrees much better with the plate left for right.

    Parameters
    ----------
    looked : Looked
        As it is.
    plate, plate_factor, photo, photo_factor
        As of `look_at_both`.
    """
    straight = looked.at_first()
    if straight is not None and len(straight) >= _SURELY:
        return False
    turned = look_at_both(
        plate, plate_factor, photo, photo_factor, mirrored=True,
        plate_mirrored=looked.plate_mirrored,
    )  # fmt: skip
    found = turned.at_first()
    least = _SURELY + 2 * (len(straight) if straight is not None else 0)
    return found is not None and len(found) >= least


def _features(picture: Grey, mirrored: bool) -> Features:
    """Return features of all parts alike: hills would leave the foreground without."""
    height, width = picture.shape
    parts = []
    for rows in _bands(height, _PARTS_DOWN):
        for columns in _bands(width, _PARTS_ACROSS):
            most = _MOST_FEATURES // (_PARTS_DOWN * _PARTS_ACROSS)
            found = find_features(picture[rows, columns], mirrored=mirrored, most=most)
            at = found.at_px + np.array([columns.start, rows.start])
            parts.append(Features(at, found.looks))
    return Features(
        np.concatenate([part.at_px for part in parts]),
        np.concatenate([part.looks.reshape(-1, 128) for part in parts]),
    )


def _bands(length: int, count: int) -> list[slice]:
    edges = np.linspace(0, length, count + 1).round().astype(int)
    return [
        slice(max(0, low - _LAP_PX), min(length, high + _LAP_PX))
        for low, high in pairwise(edges)
    ]
