"""Follow things from a plate to a photograph through the plate's most middle camera.

Where a fix leaves much open, single things are foretold badly by all of its cameras
together. One camera, and what is left over between it and the things seen so far,
foretells their neighbours well.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wherestood.ground.mapping import Mapping
from wherestood.ground.standing import central_standing
from wherestood.visit.depths import Depths, depths_of
from wherestood.visit.laid_on_plate import Corrected, Laying, Things, laying_by
from wherestood.visit.photo_camera import PhotoCamera
from wherestood.visit.seen_on_both import BothSeen, HandMarks, Looked
from wherestood.visit.stood_off import Expected, solve_photo_camera

__all__ = ["OneView"]

Array = NDArray[np.float64]
#: Parallax under this on the photograph is none: one flat map does [px].
_FLAT_PX = 1.0
_GRID_PX, _LONGEST_PX = 5.0, 1600
_MOST_FITTED, _LEAST_PAIRS = 400, 12
#: A pair may be off its neighbours by so many times what is usual, and this [px].
_WILD, _TAME_SHARE, _TAME_PX = 3.0, 0.3, 0.7
_UNEVEN_SD = 0.3
#: How far one camera may have it from where it stands by all [m], and by what share.
_STAND_M, _STAND_SHARE = 0.5, 0.3
#: A thing may show farther off by as much again for each of these of parallax [px].
_PARALLAX_PX, _FARTHEST_PX = 100.0, 150.0


class OneView:
    """Hold a plate's most middle camera, and how far all looks through it are.

    Parameters
    ----------
    mapping : Mapping
    looked : Looked or None
        Features of both pictures.
    """

    def __init__(self, mapping: Mapping, looked: Looked | None) -> None:
        one = central_standing(mapping)
        # Nothing is drawn for it: the ground is the model's, the lens's height usual.
        self.mapping = replace(one, lens_height_sd_m=0.0)
        self._looked = looked
        self._features = None if looked is None else self._depths(looked.plate_px)

    @property
    def sight_rad(self) -> float:
        """Return the grid bearing of its sight [rad]."""
        width, height = self.mapping.scan_px
        middle, _ = self.mapping.cameras.directions([0.5 * width], [0.5 * height])
        return float(middle[0, 0])

    def followed(
        self,
        pairs: BothSeen,
        hand: HandMarks,
        inside: NDArray[np.bool_] | None,
        camera: PhotoCamera,
        expected: Expected,
        reach_px: float,
    ) -> BothSeen:
        """Return pairs near where those given foretell them.

        Parameters
        ----------
        pairs : BothSeen
        hand : HandMarks
        inside : (pairs and marks,) bool array, optional
            Which of them agree; all if left out.
        camera : PhotoCamera
            Where to begin.
        expected : Expected
        reach_px : float
            How far from there they may show, on the reduced photograph [px].
        """
        if self._looked is None or self._features is None:
            return pairs
        plate = np.concatenate((pairs.plate_px, hand.plate_px))
        photo = np.concatenate((pairs.photo_px, hand.photo_px))
        if inside is not None:
            plate, photo = plate[inside], photo[inside]
        if len(plate) < _LEAST_PAIRS:
            return pairs
        known = self._corrected(BothSeen(plate, photo), camera, expected)
        told = known.at(
            self._looked.plate_px, self._features.directions[0],
            self._features.inverse_m[0],
        )  # fmt: skip
        far = known.camera.pixels(
            self._features.directions[0], 0.0 * self._features.inverse_m[0]
        )
        parallax = np.nan_to_num(np.hypot(*(told - far).T)) / self._looked.photo_factor
        # What comes near moves much, and how much is known to a share alone.
        reach = np.minimum(reach_px * (1.0 + parallax / _PARALLAX_PX), _FARTHEST_PX)
        found = self._looked.near(told, reach)
        if len(found) < _LEAST_PAIRS:
            return pairs
        return self._tame(found, camera, expected)

    def seen_as_laid(
        self,
        pairs: BothSeen,
        camera: PhotoCamera,
        expected: Expected,
        reach_px: float,
    ) -> BothSeen:
        """Return pairs found on the photograph as those given lay it on the plate."""
        if self._looked is None or len(pairs) < _LEAST_PAIRS:
            return pairs
        laying = self._laid(self._corrected(pairs, camera, expected))
        found = self._looked.as_laid(laying, reach_px)
        if len(found) < _LEAST_PAIRS:
            return pairs
        return self._tame(found, camera, expected)

    def _tame(
        self, found: BothSeen, camera: PhotoCamera, expected: Expected
    ) -> BothSeen:
        """Return pairs that agree with their neighbours."""
        assert self._looked is not None
        others = self._corrected(found, camera, expected)
        size = np.hypot(*others.own_miss_px().T)
        usual = _TAME_PX * self._looked.photo_factor
        usual += _WILD * float(np.quantile(size, _TAME_SHARE))
        tame = size < usual
        return BothSeen(others.things.plate_px[tame], others.things.photo_px[tame])

    def laying(
        self, pairs: BothSeen, camera: PhotoCamera, expected: Expected
    ) -> Laying:
        """Return how the photograph lies on the plate, by pairs that agree."""
        return self._laid(self._corrected(pairs, camera, expected))

    def _laid(self, corrected: Corrected) -> Laying:
        width, height = self.mapping.scan_px
        step = max(1.0, max(width, height) / _LONGEST_PX) * _GRID_PX
        rows, columns = max(2, round(height / step)), max(2, round(width / step))
        x, y = np.meshgrid(
            (np.arange(columns) + 0.5) / columns * width,
            (np.arange(rows) + 0.5) / rows * height,
        )
        grid = self._depths(np.column_stack((x.ravel(), y.ravel())))
        moved = float(np.linalg.norm(corrected.camera.offset_m))
        parallax = moved * corrected.things.inverse_m
        parallax *= corrected.camera.principal_distance_px
        flat = bool(parallax.size and np.quantile(parallax, 0.95) < _FLAT_PX)
        return laying_by(
            corrected, grid.directions[0].reshape(rows, columns, 3),
            grid.inverse_m[0].reshape(rows, columns), (width, height), flat=flat,
        )  # fmt: skip

    def _depths(self, at_px: Array) -> Depths:
        rng = np.random.default_rng(0)
        return depths_of(self.mapping, at_px[:, 0], at_px[:, 1], rng, drawn=False)

    def _corrected(
        self, pairs: BothSeen, camera: PhotoCamera, expected: Expected
    ) -> Corrected:
        """Return the camera that explains pairs best through this one, put right.

        How far it must stand off to explain the pictures is no place on the ground:
        this one camera may have all distances wrong.
        """
        count = len(pairs)
        which = np.arange(count)
        if count > _MOST_FITTED:
            which = np.linspace(0, count - 1, _MOST_FITTED).round().astype(np.int64)
        some = self._depths(pairs.plate_px[which])
        some = replace(some, own_sd=np.maximum(some.own_sd, _UNEVEN_SD))
        reading = np.full(which.size, 1.0)
        sd = expected.sd.copy()
        sd[:3] = _STAND_M + _STAND_SHARE * float(np.linalg.norm(camera.offset_m))
        loose = replace(expected, mean=camera.values, sd=sd, lens_sd_m=10.0)
        fitted = solve_photo_camera(
            some, pairs.photo_px[which], reading, camera, loose
        ).camera
        there = self._depths(pairs.plate_px)
        things = Things(
            pairs.plate_px, pairs.photo_px, there.directions[0], there.inverse_m[0]
        )
        return Corrected(fitted, things, self.mapping.scan_px)
