"""Lay a photograph over a plate, pixel by pixel, near things and far ones alike.

Where both stations agree this is one flat map, lens errors apart; where they do not,
each pixel goes as far as its distance asks, and what the terrain does not know is
taken from the things seen on both.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from wherestood.visit.photo_camera import PhotoCamera

__all__ = ["Corrected", "Laying", "Things", "laying_by"]

Array = NDArray[np.float64]
_NEIGHBOURS = 12
#: Neighbours count less the farther they are: across the plate, and in distance.
_REACH_SHARE, _DEPTH_REACH = 0.02, 0.25
_LEAST_INVERSE = 1.0 / 5000.0
#: The terrain's own distance counts as much as a reading of a pixel would where a third
#: of a distance is that much.
_TOLD = (1.0 / 0.3) ** 2
#: Things are taken for nearer than told by at most so many times, or farther.
_NEARER = (0.2, 8.0)


@dataclass(frozen=True)
class Laying:
    """Hold where plate pixels show on a photograph, on a grid.

    Attributes
    ----------
    at_px : (rows, columns, 2) float64 array
        On the photograph; NaN where the plate looks at what it does not show [px].
    plate_px : (int, int)
        Width and height of the plate's scan [px].
    left_px : float
        How far things seen on both, each left out of its own correction, are off in
        the median, on the plate; NaN where too few are [px].
    flat : bool
        Whether one flat map does: the stations agree.
    """

    at_px: Array
    plate_px: tuple[int, int]
    left_px: float
    flat: bool

    def places(self, x_px: Array, y_px: Array) -> Array:
        """Return where points of the plate show on the photograph, (n, 2) [px]."""
        rows, columns = self.at_px.shape[:2]
        row = np.asarray(y_px) / self.plate_px[1] * rows - 0.5
        column = np.asarray(x_px) / self.plate_px[0] * columns - 0.5
        return np.stack(
            [
                ndimage.map_coordinates(
                    self.at_px[..., k], [row, column], order=1, mode="nearest"
                )
                for k in (0, 1)
            ],
            axis=-1,
        )

    def drawn(
        self,
        photo: NDArray[np.uint8],
        shape: tuple[int, int],
        top: float = 0.0,
        bottom: float = 1.0,
        *,
        factor: float = 1.0,
    ) -> NDArray[np.uint8]:
        """Draw the photograph as it lies on the plate, or on a stripe of it.

        Parameters
        ----------
        photo : (height, width) or (height, width, 3) uint8 array
            Whole, reduced or not.
        shape : (rows, columns)
            Of the drawing.
        top, bottom : float
            Which part of the plate's height, 0 to 1.
        factor : float
            Full-size pixels to one of the photograph given.
        """
        rows, columns = shape
        grid_rows, grid_columns = self.at_px.shape[:2]
        y = (top + (np.arange(rows) + 0.5) / rows * (bottom - top)) * grid_rows - 0.5
        x = (np.arange(columns) + 0.5) / columns * grid_columns - 0.5
        at_x, at_y = np.meshgrid(x.astype(np.float32), y.astype(np.float32))
        at: Array = cv2.remap(  # type: ignore[assignment]
            self.at_px.astype(np.float32), at_x, at_y, cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        at = np.nan_to_num(at, nan=-1e4) / factor - 0.5
        drawn = cv2.remap(
            photo, at[..., 0], at[..., 1], cv2.INTER_CUBIC,
            borderMode=cv2.BORDER_CONSTANT, borderValue=(0, 0, 0),
        )  # fmt: skip
        return np.asarray(drawn, dtype=np.uint8)


@dataclass(frozen=True)
class Things:
    """Hold things seen on both pictures, as the plate's one camera has them.

    Attributes
    ----------
    plate_px, photo_px : (n, 2) float64 array
        Where they show [px].
    directions : (n, 3) float64 array
        Level length 1: right, forward, up.
    inverse_m : (n,) float64 array
        One over the distance of the ground there, as the terrain has it [1/m].
    """

    plate_px: Array
    photo_px: Array
    directions: Array
    inverse_m: Array


class Corrected:
    """Foretell where plate points show, by a camera put right by things seen.

    Parameters
    ----------
    camera : PhotoCamera
    things : Things
    plate_px : (int, int)
        Width and height of the plate's scan [px].

    Notes
    -----
    Of what a thing is off, the part along its line of nearness is taken for a wrong
    distance: by so many times its neighbours, at about its distance, are nearer or
    farther too. The rest is taken for an error of the pictures, alike about it.
    """

    def __init__(
        self, camera: PhotoCamera, things: Things, plate_px: tuple[int, int]
    ) -> None:
        self.camera = camera
        self._reach = _REACH_SHARE * float(np.hypot(*plate_px))
        told, along, per_log = _nearness(camera, things.directions, things.inverse_m)
        off = things.photo_px - told
        good = np.isfinite(off).all(axis=1) & np.isfinite(along).all(axis=1)
        self._good = good
        off, along, per_log = off[good], along[good], per_log[good]
        self._tree = cKDTree(self._keys(things.plate_px[good], things.inverse_m[good]))
        moved = (off * along).sum(axis=1)
        # So surely does each tell a distance: a reading of a pixel against its line.
        self._sure = per_log**2
        with np.errstate(divide="ignore", invalid="ignore"):
            # A line is straight in one over the distance, of which this is the log.
            share = moved / per_log
        self._nearer = np.log(np.clip(1.0 + np.nan_to_num(share), *_NEARER))
        self._things = Things(
            things.plate_px[good], things.photo_px[good], things.directions[good],
            things.inverse_m[good],
        )  # fmt: skip
        self._left = np.zeros_like(off)
        nearer = self._about(self._things.plate_px, self._things.inverse_m, 0)[0]
        closer = self._things.inverse_m * np.exp(nearer)
        self._left = self._things.photo_px - camera.pixels(
            self._things.directions, closer
        )

    def __len__(self) -> int:
        """Return how many things it rests on."""
        return len(self._left)

    def at(self, plate_px: Array, directions: Array, inverse_m: Array) -> Array:
        """Return where points show on the photograph, (n, 2) [px]."""
        nearer, left = self._about(plate_px, inverse_m, 0)
        return self.camera.pixels(directions, inverse_m * np.exp(nearer)) + left

    def own_miss_px(self) -> Array:
        """Return how far each thing is off what the others foretell, (n, 2) [px]."""
        things = self._things
        nearer, left = self._about(things.plate_px, things.inverse_m, 1)
        told = self.camera.pixels(things.directions, things.inverse_m * np.exp(nearer))
        return np.asarray(things.photo_px - told - left)

    @property
    def things(self) -> Things:
        """Return the things it rests on."""
        return self._things

    def _keys(self, here: Array, near: Array) -> Array:
        depth = np.log(np.maximum(near, _LEAST_INVERSE)) / _DEPTH_REACH
        return np.column_stack((here / self._reach, depth))

    def _about(self, here: Array, near: Array, without: int) -> tuple[Array, Array]:
        """Return what neighbours say; the nearest left out where it is itself."""
        count = min(_NEIGHBOURS, self._tree.n - without) + without
        away, which = self._tree.query(self._keys(here, near), k=count)
        away, which = away[:, without:], which[:, without:]
        weight = np.exp(-0.5 * (away / np.maximum(away[:, :1], 0.7)) ** 2)
        told = weight * self._sure[which]
        nearer = _agreed(self._nearer[which][..., None], told, _TOLD)
        return nearer[:, 0], _agreed(self._left[which], weight, 1e-12)


def _agreed(values: Array, weight: Array, told: float) -> Array:
    """Return the mean of neighbours' values, wild ones left out, drawn to nought."""
    middle = np.median(values, axis=1, keepdims=True)
    apart = np.sqrt(((values - middle) ** 2).sum(axis=-1))
    usual = 1.5 * np.median(apart, axis=1, keepdims=True) + 1e-3
    weight = weight / (1.0 + (apart / usual) ** 4)
    total = weight.sum(axis=1, keepdims=True) + told
    return np.asarray((weight[..., None] * values).sum(axis=1) / total)


def _nearness(
    camera: PhotoCamera, directions: Array, inverse_m: Array
) -> tuple[Array, Array, Array]:
    """Return where things show, the way they go as they come nearer, and how fast."""
    told = camera.pixels(directions, inverse_m)
    step = camera.pixels(directions, inverse_m * 1.01) - told
    length = np.hypot(*step.T)
    along = step / np.maximum(length, 1e-12)[:, None]
    return told, along, length / 0.01


def laying_by(
    corrected: Corrected,
    directions: Array,
    inverse_m: Array,
    plate_px: tuple[int, int],
    *,
    flat: bool,
) -> Laying:
    """Return how a photograph lies on a plate.

    Parameters
    ----------
    corrected : Corrected
        Foretells where plate points show.
    directions : (rows, columns, 3) float64 array
        Of a grid of the plate's pixels.
    inverse_m : (rows, columns) float64 array
        One over their distance [1/m].
    plate_px : (int, int)
        Width and height of the scan [px].
    flat : bool
        Whether the stations agree.
    """
    rows, columns = inverse_m.shape
    x = (np.arange(columns) + 0.5) / columns * plate_px[0]
    y = (np.arange(rows) + 0.5) / rows * plate_px[1]
    places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    at = corrected.at(places, directions.reshape(-1, 3), inverse_m.ravel())
    at = at.reshape(rows, columns, 2)
    miss = np.hypot(*corrected.own_miss_px().T)
    scale = _plate_px_a_photo_px(at, plate_px)
    return Laying(at, plate_px, float(np.median(miss) * scale), flat)


def _plate_px_a_photo_px(at: Array, plate_px: tuple[int, int]) -> float:
    rows, columns = at.shape[:2]
    across = np.diff(at[rows // 2], axis=0)
    step = float(np.nanmedian(np.hypot(across[:, 0], across[:, 1])))
    return float(plate_px[0] / columns / max(step, 1e-6))
